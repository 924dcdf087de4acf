"""Options of formats as words of the command line: ``rs274.beam_on=M3``."""

import tomllib
from collections.abc import Iterable

from nesting.errors import InputError, Problem
from nesting.job.job import OptionValue


def written_options(words: Iterable[str]) -> dict[str, dict[str, OptionValue]]:
    """Read options, each ``FORMAT.KEY=VALUE``; a value is read as TOML, or else taken as text.

    Raises
    ------
    InputError
        With every word that has another form.

    Examples
    --------
    >>> written_options(["rs274.beam_on=M4", "rs274.line_numbers=10", 'rs274.footer=["G28"]'])
    {'rs274': {'beam_on': 'M4', 'line_numbers': 10, 'footer': ('G28',)}}
    """
    options: dict[str, dict[str, OptionValue]] = {}
    problems = []
    for word in words:
        name, equals, value = word.partition("=")
        writer, dot, key = name.strip().partition(".")
        if not (equals and dot and writer and key):
            problems.append(Problem("", "--option", f"found {word!r}; allowed: FORMAT.KEY=VALUE"))
            continue
        options.setdefault(writer, {})[key] = _value(value.strip())
    if problems:
        raise InputError(problems)
    return options


def _value(text: str) -> OptionValue:
    try:
        value = tomllib.loads(f"value = {text}")["value"]
    except tomllib.TOMLDecodeError:
        return text
    if isinstance(value, list):
        return tuple(value)
    return value if isinstance(value, bool | int | float | str) else text
