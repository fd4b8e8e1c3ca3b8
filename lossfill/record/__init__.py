"""The treatment record: what was there, what was done with what, and how to care for it."""
