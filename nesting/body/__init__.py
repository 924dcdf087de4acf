"""Solid blanks and light: what a body looks like from above, how it lies, and what of it is in focus."""
