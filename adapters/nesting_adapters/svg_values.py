"""Numbers and lengths of SVG attributes, in user units (CSS px)."""

import math
import re
from itertools import islice

MAX_NUMBER = 1e9
"""Numbers beyond this are refused: no drawing needs them, and they overflow further on."""

PX_PER_UNIT = {
    "": 1.0, "px": 1.0, "in": 96.0, "cm": 96 / 2.54, "mm": 96 / 25.4, "q": 96 / 101.6,
    "pt": 96 / 72, "pc": 16.0,
}  # fmt: skip
"""CSS px in one unit: 96 px = 1 in = 25.4 mm (W3C CSS Values and Units 3, section 6.2)."""

MM_PER_PX = 25.4 / 96
"""Millimetres in one user unit of the page, the CSS px."""

NUMBER = r"(?>[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?)"
_LENGTH = re.compile(rf"({NUMBER})([a-zA-Z]*|%)")
_LIST = re.compile(rf"(?:{NUMBER}(?:\s*,\s*|\s+|(?=[+\-.])|$))*+")
_ONE = re.compile(NUMBER)


def numbers(text: str, most: int = 100) -> list[float]:
    """Read up to `most` numbers separated by spaces or single commas.

    Raises
    ------
    ValueError
        If anything else is in the text, or a number is out of range.

    Examples
    --------
    >>> numbers("0,1 -2.5 .5e1")
    [0.0, 1.0, -2.5, 5.0]
    """
    text = text.strip()
    if has_more(_ONE, text, most):
        raise ValueError(f"{shortened(text)} holds more than {most} numbers")
    if not _LIST.fullmatch(text) or text.endswith(","):
        raise ValueError(f"{shortened(text)} is no list of numbers")
    return [_in_range(float(found[0])) for found in _ONE.finditer(text)]


def length(text: str, hundred_percent: float | None) -> float:
    """Read a length in user units; `hundred_percent` is what 100 % stands for, None where it means nothing.

    >>> round(length("25.4mm", None), 9), length("50%", 300)
    (96.0, 150.0)
    """
    match = _LENGTH.fullmatch(text.strip())
    unit = match[2].lower() if match else ""
    if (
        match is None
        or (unit != "%" and unit not in PX_PER_UNIT)
        or (unit == "%" and hundred_percent is None)
    ):
        percent = ", %" if hundred_percent is not None else ""
        raise ValueError(
            f"{shortened(text)} is no length here; "
            f"allowed: a number, alone or with px, mm, cm, in, pt, pc, q{percent}"
        )
    if unit == "%":
        return _in_range(float(match[1]) / 100 * (hundred_percent or 0.0))
    return _in_range(float(match[1]) * PX_PER_UNIT[unit])


def has_more(pattern: re.Pattern[str], text: str, most: int) -> bool:
    """Tell whether a pattern is found more than `most` times, without reading on after that."""
    return sum(1 for _ in islice(pattern.finditer(text), most + 1)) > most


def shortened(text: str) -> str:
    """Quote a text from the file, cut to a length that suits a message."""
    return repr(text if len(text) <= 40 else text[:37] + "...")


def _in_range(value: float) -> float:
    if not (math.isfinite(value) and abs(value) <= MAX_NUMBER):
        raise ValueError(f"the number {value:g} is out of range; allowed: up to {MAX_NUMBER:g}")
    return value
