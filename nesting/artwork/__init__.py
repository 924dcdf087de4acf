"""Placing, fitting and filling artwork in a mark area."""
