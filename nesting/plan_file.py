"""The file ``plan.json``: a plan written down, and read back to an equal plan."""

import json
from functools import cache
from pathlib import Path
from typing import Any

import shapely
from pydantic import ConfigDict, TypeAdapter, ValidationError
from pydantic_core import ErrorDetails, from_json

from nesting.errors import InputError, Problem
from nesting.plan_values import PLAN_VERSION, Plan
from nesting.plan_versions import upgraded

LINE_WIDTH = 110
LARGEST_BYTES = 200_000_000
"""A plan is never larger."""


def plan_to_json(plan: Plan) -> str:
    """Write a plan as JSON: floats to their last digit, each list of numbers on a line of its own.

    The same plan gives the same text, which ends with a line break.
    """
    return _text(_adapter().dump_python((plan,), mode="json")[0]) + "\n"


def plan_from_json(text: str | bytes, file: str = "") -> Plan:
    """Read a plan from the text of a ``plan.json`` of this version or an older one.

    Parameters
    ----------
    text
        What the file holds.
    file
        Its name, for errors.

    Raises
    ------
    InputError
        With every problem found: the text is no JSON, its version is newer than this program's, or
        its keys and values are not those of `plan_schema`.
    """
    try:
        found = from_json(text, allow_inf_nan=False)
    except ValueError as error:
        raise InputError.single(f"not a JSON text: {error}", file=file) from None
    version = _version(found, file)
    source = text if isinstance(text, str) else text.decode()
    if version < PLAN_VERSION:
        source = json.dumps(upgraded(found))
    try:
        return _adapter().validate_json(f"[{source}]")[0]
    except ValidationError as error:
        raise InputError(_problem(detail, file) for detail in error.errors()) from None
    except (ArithmeticError, shapely.GEOSException) as error:
        raise InputError.single(f"its numbers are beyond all measure: {error}", file=file) from None


def load_plan(path: str | Path) -> Plan:
    """Read the plan in a file.

    Raises
    ------
    InputError
        If the file cannot be read, or as `plan_from_json`.
    """
    try:
        size = Path(path).stat().st_size
        if size > LARGEST_BYTES:
            message = f"larger than {LARGEST_BYTES // 1_000_000} MB, the most that is read"
            raise InputError.single(message, file=str(path))
        content = Path(path).read_bytes()
    except OSError as error:
        reason = error.strerror or error
        raise InputError.single(f"this plan cannot be read: {reason}", file=str(path)) from None
    return plan_from_json(content, str(path))


def plan_schema() -> dict[str, Any]:
    """Describe ``plan.json`` as a JSON Schema (2020-12).

    >>> plan_schema()["$schema"]
    'https://json-schema.org/draft/2020-12/schema'
    """
    definitions = _adapter().json_schema()["$defs"]
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": f"Plan, version {PLAN_VERSION}",
        "$ref": "#/$defs/Plan",
        "$defs": definitions,
    }


@cache
def _adapter() -> TypeAdapter[tuple[Plan]]:
    # a configuration reaches plain dataclasses only from a type around them, hence the tuple
    return TypeAdapter(tuple[Plan], config=ConfigDict(extra="forbid", allow_inf_nan=False, strict=True))


def _version(found: object, file: str) -> int:
    """Give the version of a file, which its reader knows."""
    if not isinstance(found, dict):
        raise InputError.single("found no object of keys and values; a plan is one", file=file)
    version = found.get("version", PLAN_VERSION)
    if isinstance(version, bool) or not isinstance(version, int) or version < 1:
        message = f"found {version!r}; allowed: 1 to {PLAN_VERSION}"
        raise InputError.single(message, file=file, where="version")
    if version > PLAN_VERSION:
        message = f"found {version}, made by {found.get('made_by', 'a newer program')!s}; this program reads"
        raise InputError.single(f"{message} versions up to {PLAN_VERSION}", file=file, where="version")
    return version


def _problem(detail: ErrorDetails, file: str) -> Problem:
    where = ""
    for key in detail["loc"][1:]:
        where += f"[{key}]" if isinstance(key, int) else f".{key}"
    found = repr(detail["input"])
    shown = found if len(found) <= 60 else found[:57] + "..."
    message = "this key is unknown" if "unexpected" in detail["type"] else detail["msg"]
    return Problem(
        file, where.lstrip("."), message if "missing" in detail["type"] else f"{message}, found {shown}"
    )


def _text(value: Any, depth: int = 0) -> str:
    """Write a value: what is short and lists of numbers on one line, anything else indented by one."""
    if _is_numbers(value):
        return repr(value)  # as JSON has it, and faster
    if not isinstance(value, dict | list):
        return _plain(value)
    if isinstance(value, dict):
        opening, closing = "{}"
        items = [f"{_plain(key)}: {_text(v, depth + 1)}" for key, v in value.items()]
    else:
        opening, closing = "[]"
        items = [_text(item, depth + 1) for item in value]
    joined = ", ".join(items)
    if len(joined) + 2 + depth < LINE_WIDTH and "\n" not in joined:
        return opening + joined + closing
    inner = "\n" + " " * (depth + 1)
    return opening + inner + f",{inner}".join(items) + "\n" + " " * depth + closing


_plain = json.JSONEncoder(ensure_ascii=False).encode


def _is_numbers(value: Any) -> bool:
    if isinstance(value, list):
        return bool(value) and all(map(_is_numbers, value))
    return isinstance(value, int | float) and not isinstance(value, bool)
