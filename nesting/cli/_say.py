"""Printing and options that several commands share."""

import argparse
import json
import math
import os
import sys
from typing import Any, TypeAlias

Commands: TypeAlias = "argparse._SubParsersAction[argparse.ArgumentParser]"


def say(text: str) -> None:
    """Print a line to standard output."""
    print(text)  # noqa: T201 - the one place where the command line speaks


def say_json(value: Any) -> None:
    """Print a value as JSON, for programs."""
    say(json.dumps(value, indent=2, ensure_ascii=False))


def striking(text: str) -> str:
    """Make a text bold on a terminal that may show it; plain in a pipe and where NO_COLOR is set."""
    plain = os.environ.get("NO_COLOR") or os.environ.get("TERM") == "dumb" or not sys.stdout.isatty()
    return text if plain else f"\x1b[1m{text}\x1b[0m"


def positive(text: str) -> float:
    """Read an option that is a number above 0."""
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not (math.isfinite(value) and value > 0):
        raise argparse.ArgumentTypeError(f"{text!r} is not allowed; allowed: a number above 0")
    return value
