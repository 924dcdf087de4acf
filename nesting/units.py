"""Lengths: millimetres inside, other units converted once, on reading."""

import math
import re

MM_PER_UNIT = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, "ft": 304.8, "pt": 25.4 / 72, "px": 25.4 / 96}
"""Millimetres in one unit; ``px`` is the CSS reference pixel, 1/96 in (W3C CSS Values 3, section 6.2)."""

GRID_MM = 0.001
"""Placements sit on this grid, and every clear distance is verified to it."""

_LENGTH = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*([a-zA-Z\"]*)\s*")


def to_mm(length: float | str, unit: str = "mm") -> float:
    """Convert a length to millimetres.

    Parameters
    ----------
    length
        A number in `unit`, or a text such as ``"4 in"`` that brings its own unit.
    unit
        The unit of a bare number: one of ``mm cm m in ft pt px``.

    Raises
    ------
    ValueError
        If the text is no finite length or the unit is unknown; the message says what is allowed.

    Examples
    --------
    >>> to_mm("4 in")
    101.6
    >>> to_mm(2, "cm")
    20.0
    >>> to_mm("")
    Traceback (most recent call last):
    ValueError: '' is not a length; allowed: a number, or a number and one of mm, cm, m, in, ft, pt, px
    """
    if isinstance(length, str):
        match = _LENGTH.fullmatch(length)
        if match is None or (match[2] or unit) not in MM_PER_UNIT:
            raise ValueError(_refusal(length))
        value, unit = float(match[1]), match[2] or unit
    else:
        value = float(length)
    if unit not in MM_PER_UNIT or not math.isfinite(value):
        raise ValueError(_refusal(length if unit in MM_PER_UNIT else unit))
    return value * MM_PER_UNIT[unit]


def snap(value_mm: float) -> float:
    """Round a coordinate to the placement grid of 1 µm.

    >>> snap(1.23456)
    1.235
    """
    return round(value_mm / GRID_MM) / 1000


def _refusal(found: object) -> str:
    return f"{found!r} is not a length; allowed: a number, or a number and one of {', '.join(MM_PER_UNIT)}"
