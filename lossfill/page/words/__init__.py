"""Every string of the page, in one place: `common`, and a module for each step."""
