"""Libraries that come with an extra: imported when they are needed, named where they are not there."""

from importlib import import_module
from pathlib import Path
from typing import Any

from nesting.errors import InputError


def library(name: str, extra: str, path: Path) -> Any:
    """Import a library for the reading of a file.

    Raises
    ------
    nesting.errors.InputError
        If it is not installed; the message says how to install it.
    """
    try:
        return import_module(name)
    except ModuleNotFoundError:
        message = f"a file ending in {path.suffix!r} needs the extra {extra!r}"
        command = f'install it with pip install "nesting-optimiser[{extra}]"'
        raise InputError.single(f"{message}; {command}", file=str(path)) from None


def refuse_large(path: Path, most: int) -> None:
    """Refuse a file of more bytes than are read, or one that cannot be opened.

    Raises
    ------
    nesting.errors.InputError
        If that is so.
    """
    try:
        size = path.stat().st_size if path.is_file() else None
    except OSError as error:
        raise InputError.single(f"cannot be read: {error}", file=str(path)) from None
    if size is None:
        raise InputError.single("there is no such file", file=str(path))
    if size > most:
        message = f"larger than {most / 1_000_000:g} MB, the most that is read"
        raise InputError.single(message, file=str(path))
