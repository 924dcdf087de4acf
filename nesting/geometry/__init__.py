"""Contours of lines and true arcs, regions, offsets and no-fit polygons; no word of the trade in here."""
