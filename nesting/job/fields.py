"""The kinds of value a job document may hold, each with its limits and its own words when refused."""

import re
from collections.abc import Callable
from datetime import date, datetime
from typing import Annotated, Any

from pydantic import AfterValidator, BeforeValidator, Field, Strict, ValidationInfo, WithJsonSchema
from pydantic_core import PydanticCustomError

from nesting.units import GRID_MM, MM_PER_UNIT, to_mm

LONGEST_MM = 10_000.0
"""No length of a job is longer than this: 10 m."""

MOST_UNITS = 1_000_000
"""No order line asks for more units than this."""

_LENGTH_TEXT = rf"^\s*[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?\s*({'|'.join(MM_PER_UNIT)})?\s*$"


def shown(value: object) -> str:
    """Show a value that was found, shortened, in one line.

    >>> shown("beech"), shown(True), shown({"a": 1}), shown("x" * 99)[-4:]
    ("'beech'", 'true', 'a table', "...'")
    """
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list | tuple):
        return "a list"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return repr(value if len(value) <= 60 else value[:57] + "...")
    if isinstance(value, int) and abs(value) >= 10**18:
        return "a number of more than 18 digits"
    return "nothing" if value is None else str(value)


def refusal(found: object, allowed: str) -> PydanticCustomError:
    """Make the error that a field raises; its message is shown to the user as it is."""
    return PydanticCustomError("own_words", "{words}", {"words": f"found {shown(found)}; allowed: {allowed}"})


def _length(allowed: str, suits: Callable[[float], bool]) -> Callable[[Any, ValidationInfo], float | str]:
    def check(value: Any, info: ValidationInfo) -> float | str:
        wording = f'{allowed}, at most {LONGEST_MM / 1000:g} m, as a number or with a unit such as "4 in"'
        if isinstance(value, bool) or not isinstance(value, int | float | str):
            raise refusal(value, wording)
        try:
            length_mm = to_mm(value, (info.context or {}).get("unit", "mm"))
        except (ValueError, OverflowError):
            raise refusal(value, f"{wording}; units: {', '.join(MM_PER_UNIT)}") from None
        if not suits(length_mm) or abs(length_mm) > LONGEST_MM:
            raise refusal(value, wording)
        return value

    return check


def _length_schema(**limits: float) -> WithJsonSchema:
    number = {"type": "number", **limits}
    return WithJsonSchema({"anyOf": [number, {"type": "string", "pattern": _LENGTH_TEXT}]})


Length = Annotated[
    float | str,
    BeforeValidator(_length("a length above 0 (1 µm or more)", lambda mm: mm >= GRID_MM)),
    _length_schema(exclusiveMinimum=0),
]
Distance = Annotated[
    float | str,
    BeforeValidator(_length("a length of 0 or more", lambda mm: mm >= 0)),
    _length_schema(minimum=0),
]
Coordinate = Annotated[
    float | str, BeforeValidator(_length("a length, also below 0", lambda _: True)), _length_schema()
]


def _iso_date(value: Any) -> date:
    if isinstance(value, date) and not isinstance(value, datetime):
        return value
    try:
        if isinstance(value, str) and len(value) == len("2026-05-30"):
            return date.fromisoformat(value)
    except ValueError:
        pass
    raise refusal(value, "a date of the calendar written as ISO 8601 has it, such as 2026-05-30")


def _printable(value: str) -> str:
    if not value.isprintable() or value != value.strip():
        raise refusal(value, "text in one line, without blanks at its ends or control characters")
    return value


def _spares(value: Any) -> Any:
    allowed = f'a whole number from 0 to {MOST_UNITS:,}, or a share of the quantity up to "100 %"'
    if isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= MOST_UNITS:
        return value
    if isinstance(value, str) and re.fullmatch(_SHARE_TEXT, value) and float(value.rstrip(" %")) <= 100:
        return value
    raise refusal(value, allowed)


_SHARE_TEXT = r"\d{1,3}(\.\d{1,6})?\s*%"

Spares = Annotated[
    int | str,
    BeforeValidator(_spares),
    WithJsonSchema(
        {
            "anyOf": [
                {"type": "integer", "minimum": 0, "maximum": MOST_UNITS},
                {"type": "string", "pattern": f"^{_SHARE_TEXT}$"},
            ]
        }
    ),
]
IsoDate = Annotated[date, BeforeValidator(_iso_date), WithJsonSchema({"type": "string", "format": "date"})]
Text = Annotated[str, Strict(), Field(max_length=2000)]
Name = Annotated[str, Strict(), Field(min_length=1, max_length=120), AfterValidator(_printable)]
FilePath = Annotated[str, Strict(), Field(min_length=1, max_length=400)]
Count = Annotated[int, Strict(), Field(ge=1, le=MOST_UNITS)]
Turn = Annotated[float, Strict(), Field(ge=-360, le=360)]
