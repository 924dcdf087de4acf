"""Twelve invented blanks such as a small shop marks: cups on their side, coasters, pens and fobs."""

import math

from nesting import Footprint
from nesting.geometry.contour import Contour, Vertex


def blanks() -> dict[str, Footprint]:
    """Give the footprints by name, those of one trade word beginning alike."""
    return {
        "cup with a handle": _cup(95, 82, 82, handle=28),
        "cup, tapered": _cup(120, 92, 64, handle=0),
        "cup, small": _cup(62, 64, 50, handle=20),
        "coaster, round": Footprint.circle(90),
        "coaster, hexagon": Footprint.polygon([_polar(52, 60 * k) for k in range(6)]),
        "coaster, square": Footprint.rectangle(95, 95, radius=12),
        "pen, long": Footprint.rectangle(145, 13, radius=6),
        "pen with a clip": Footprint.polygon(
            [(0, 0), (138, 0), (138, 10), (60, 10), (56, 15), (16, 15), (12, 10), (0, 10)]
        ),
        "fob, drop": Footprint(Contour(((-14, 0, 0), (-5, -36, 0), (5, -36, 0), (14, 0, 1)))),
        "fob, crescent": Footprint(Contour(((-30, 0, 1), (30, 0, 0), (17, 0, -1), (-17, 0, 0)))),
        "fob, tag": Footprint(Footprint.rectangle(28, 60, radius=8).outer, (Contour.circle(5, 14, 52),)),
        "fob, paw": Footprint.polygon(
            [_polar(18 + 7 * math.cos(math.radians(90 * k)), 15 * k) for k in range(24)]
        ),
    }


def _cup(height: float, mouth: float, base: float, handle: float) -> Footprint:
    """Outline of a cup lying on its side, its axis along x, a bow for a handle on the upper side."""
    inset = (mouth - base) / 2
    corners: list[Vertex] = [(0, 0, 0), (height, inset, 0), (height, mouth - inset, 0)]
    if handle:
        slope = inset / height
        right, left = 0.75 * height, 0.2 * height
        corners.append((right, mouth - slope * right, 2 * handle / (right - left)))
        corners.append((left, mouth - slope * left, 0))
    return Footprint(Contour((*corners, (0, mouth, 0))))


def _polar(radius: float, degrees: float) -> tuple[float, float]:
    return radius * math.cos(math.radians(degrees)), radius * math.sin(math.radians(degrees))
