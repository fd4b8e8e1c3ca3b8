"""Stage 6: the solid that replaces it."""
