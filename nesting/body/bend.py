"""What a bent surface does to something flat laid over it: arc, incidence, width in focus."""

import math
from typing import Literal


def arc(radius: float, width: float) -> float:
    """Length round a cylinder that looks `width` mm wide from above: 2 r asin(w / 2r)."""
    return 2 * radius * math.asin(width / (2 * radius))


def incidence(radius: float, width: float) -> float:
    """Angle in degrees between beam and surface normal at the edges of such a strip: asin(w / 2r)."""
    return math.degrees(math.asin(width / (2 * radius)))


def in_focus_half_width(
    radius: float, depth: float, focus: Literal["mid-depth", "crown"] = "mid-depth"
) -> float:
    """Half the width of the strip of a cylinder that lies in a depth of focus, in mm.

    The focus is half the depth below the crown, √(2 r Z - Z²), or on it, √(r Z - Z²/4).

    >>> round(in_focus_half_width(37.5, 2), 6), round(in_focus_half_width(37.5, 2, "crown"), 6)
    (12.083046, 8.602325)
    """
    fall = min(depth if focus == "mid-depth" else depth / 2, radius)
    return math.sqrt(2 * radius * fall - fall**2)
