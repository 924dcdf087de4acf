"""From a file to a document: TOML or JSON, with line and column of what cannot be read."""

import codecs
import json
import re
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

from nesting.errors import InputError

LARGEST_BYTES = 20_000_000
"""A job document or an order list is never larger."""

_MARKS = {codecs.BOM_UTF8: "utf-8-sig", codecs.BOM_UTF16_LE: "utf-16", codecs.BOM_UTF16_BE: "utf-16"}


def read_document(path: Path) -> Any:
    """Read a job document; what it holds is not looked at.

    Raises
    ------
    nesting.errors.InputError
        If there is no such file, or it is neither good TOML nor good JSON.
    """
    parse = _PARSERS.get(path.suffix.lower())
    if parse is None:
        found = "a folder" if path.is_dir() else f"a name ending in {path.suffix!r}"
        message = f"found {found}; allowed: a job document ending in {' or '.join(_PARSERS)}"
        raise InputError.single(message, file=str(path))
    try:
        return parse(read_text(path))
    except _SyntaxFound as found:
        raise InputError.single(found.message, file=str(path), where=found.where) from None
    except RecursionError:
        raise InputError.single("tables or lists are nested too deep", file=str(path)) from None


def read_text(path: Path, encoding: str = "utf-8", advice: str = "save the file as UTF-8") -> str:
    """Read a text file, with or without a byte order mark; line ends stay as they are.

    Parameters
    ----------
    encoding
        How it is encoded; a mark of UTF-8 or UTF-16 at its beginning goes before that.
    advice
        What to do about a file that is encoded otherwise.

    Raises
    ------
    nesting.errors.InputError
        If it cannot be read, is too large, or is encoded otherwise; the message names the line of the
        wrong byte.
    """
    content = _bytes(path)
    marked = next((name for mark, name in _MARKS.items() if content.startswith(mark)), encoding)
    try:
        return content.decode(marked)
    except UnicodeDecodeError as error:
        line = error.object.count(b"\n", 0, error.start) + 1
        byte = error.object[error.start]
        message = f"found the byte 0x{byte:02x}, which is not {encoding.upper()}; {advice}"
        raise InputError.single(message, file=str(path), where=f"line {line}") from None


def _bytes(path: Path) -> bytes:
    try:
        if not path.exists():
            raise InputError.single("there is no such file", file=str(path))
        if not path.is_file():
            found = "a folder" if path.is_dir() else "no ordinary file"
            raise InputError.single(f"this is {found}; a file is needed", file=str(path))
        if path.stat().st_size > LARGEST_BYTES:
            message = f"larger than {LARGEST_BYTES // 1_000_000} MB, the most that is read"
            raise InputError.single(message, file=str(path))
        return path.read_bytes()
    except (OSError, ValueError) as error:
        if isinstance(error, InputError):
            raise
        raise InputError.single(f"cannot be read: {error}", file=str(path)) from None


class _SyntaxFound(Exception):  # noqa: N818 -- it never leaves this file
    def __init__(self, message: str, where: str = "") -> None:
        super().__init__(message)
        self.message, self.where = message, where


def _toml(text: str) -> Any:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        what, _, where = str(error).partition(" (at ")
        place = re.fullmatch(r"line (\d+), column (\d+)\)", where)
        end = text.count("\n") + 1
        line = f"line {place[1]}, column {place[2]}" if place else f"line {end}, the end of the file"
        raise _SyntaxFound(f"this is not TOML: {what[:1].lower()}{what[1:]}", line) from None
    except (ValueError, OverflowError) as error:
        raise _SyntaxFound(f"this is not TOML: {error}") from None


def _json(text: str) -> Any:
    try:
        return json.loads(text, object_pairs_hook=_once, parse_constant=_no_constant)
    except json.JSONDecodeError as error:
        place = f"line {error.lineno}, column {error.colno}"
        raise _SyntaxFound(f"this is not JSON: {error.msg[:1].lower()}{error.msg[1:]}", place) from None
    except ValueError as error:
        raise _SyntaxFound(f"this is not JSON: {error}") from None


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    seen: dict[str, Any] = {}
    for key, value in pairs:
        if key in seen:
            raise _SyntaxFound(f"the key {key!r} is there twice in one table; allowed: once")
        seen[key] = value
    return seen


def _no_constant(name: str) -> float:
    raise _SyntaxFound(f"this is not JSON: found {name}, and a number must be finite")


_PARSERS: dict[str, Callable[[str], Any]] = {".toml": _toml, ".json": _json}
