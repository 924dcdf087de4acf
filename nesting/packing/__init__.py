"""Packing: what is to be placed, on what, where it lies, and how good that can be."""
