"""Nesting optimiser: packs mixed blanks with their artwork onto sheets, and plans how to mark them."""

__version__ = "0.1.0"
