"""Path data of the SVG standard (W3C SVG 2, chapter 9) for contours: true arcs, y pointing down."""

import math
from collections.abc import Iterable

from nesting.geometry.contour import Arc, Contour, Vertex

STRAIGHT_MM = 0.0005
"""An arc that leaves its chord by no more is a line: readers take the angle of an arc with so long a
radius from a cosine next to 1, and are off along it by more than that."""

WIDEST_ARC = math.radians(100)
"""Wider arcs are written in pieces: near a half turn, rounding the ends and the radius of an arc moves it
by the square root of what was rounded, not by as much."""


def number(value: float, decimals: int = 4) -> str:
    """Write a number without needless digits.

    >>> number(12.50004), number(-0.00001), number(3)
    ('12.5', '0', '3')
    """
    text = f"{value:.{decimals}f}"
    if decimals and text[-1] == "0":
        text = text.rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def path_data(contour: Contour, height: float = 0.0, decimals: int = 4) -> str:
    """Write a contour as path data on a page `height` mm high, on which y points down.

    >>> path_data(Contour.polyline([(0, 0), (20, 0), (20, 10)]), height=30)
    'M0 30L20 30L20 20Z'
    >>> path_data(Contour(((0, 0, 0.41421356), (10, 10, 0)), closed=False))
    'M0 0A10 10 0 0 0 10 -10'
    """
    x, y, _ = contour.vertices[0]
    pieces = [f"M{_point(x, y, height, decimals)}"]
    for a, b in contour.segments:
        if a[2] and _bows(a, b, decimals):
            pieces += _arc_data(a, b, height, decimals)
        else:
            pieces.append(f"L{_point(b[0], b[1], height, decimals)}")
    if not contour.closed:
        return "".join(pieces)
    # closing draws the last line by itself
    closing = pieces if _bows(*contour.segments[-1], decimals) else pieces[:-1]
    return "".join(closing) + "Z"


def joint_path_data(contours: Iterable[Contour], height: float = 0.0, decimals: int = 4) -> str:
    """Write several contours as the path data of one path."""
    return "".join(path_data(contour, height, decimals) for contour in contours)


def placing(x: float, y: float, turn: float, height: float, decimals: int = 4) -> str:
    """Write the transform that puts what was drawn round (0, 0), y already pointing down, at (x, y).

    >>> placing(10, 20, 90, height=100)
    'translate(10 80) rotate(-90)'
    """
    shift = f"translate({_point(x, y, height, decimals)})"
    return f"{shift} rotate({number(-turn, 6)})" if turn % 360 else shift


def _bows(a: Vertex, b: Vertex, decimals: int) -> bool:
    """Tell whether a stretch leaves its chord by what the decimals can show and readers can follow."""
    return abs(a[2]) * math.dist(a[:2], b[:2]) / 2 > max(0.1**decimals / 2, STRAIGHT_MM)


def _arc_data(a: Vertex, b: Vertex, height: float, decimals: int) -> list[str]:
    arc = Arc.between(a, b)
    pieces = math.ceil(abs(arc.sweep) / WIDEST_ARC)
    ends = [arc.at(k / pieces) for k in range(1, pieces)] + [(b[0], b[1])]
    radius = number(arc.radius, decimals)
    # counter-clockwise stays so to the eye, which is against the standard's positive angle
    side = 0 if arc.sweep > 0 else 1
    return [f"A{radius} {radius} 0 0 {side} {_point(x, y, height, decimals)}" for x, y in ends]


def _point(x: float, y: float, height: float, decimals: int) -> str:
    return f"{number(x, decimals)} {number(height - y, decimals)}"
