"""Options of plug-ins: a plug-in that has some is a pydantic model, and its fields are its options."""

from collections.abc import Iterator, Mapping
from importlib.util import find_spec
from typing import Any

from pydantic import BaseModel, ConfigDict, ValidationError

from nesting.errors import InputError, Problem
from nesting.job.findings import key_path
from nesting.job.job import OptionValue
from nesting.job.wording import worded

Options = Mapping[str, OptionValue]


class WithOptions(BaseModel):
    """Base of a plug-in with options: each field is one, with a default; unknown ones are refused.

    >>> class Writer(WithOptions):
    ...     decimals: int = 4
    >>> with_options(Writer(), {"decimals": 3}, "output.mine").decimals
    3
    >>> with_options(Writer(), {"decimal": 3}, "output.mine")
    Traceback (most recent call last):
    nesting.errors.InputError: output.mine.decimal: unknown key 'decimal'; did you mean 'decimals'? known: \
'decimals'
    """

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


def with_options(plug_in: Any, options: Options, where: str, file: str = "") -> Any:
    """Give a plug-in its options.

    Parameters
    ----------
    plug_in
        As it was loaded, every option at its default.
    options
        Those to change, by name.
    where, file
        Where they were written, for errors.

    Raises
    ------
    InputError
        With every option that is unknown or has a value it cannot take.
    """
    problems = tuple(option_problems(plug_in, options, where, file))
    if problems:
        raise InputError(problems)
    return type(plug_in).model_validate(dict(options)) if options else plug_in


def option_problems(plug_in: Any, options: Any, where: str, file: str = "") -> Iterator[Problem]:
    """List what is wrong with the options for a plug-in."""
    if not isinstance(plug_in, WithOptions):
        for name in options:
            yield Problem(file, _joined(where, (name,)), f"found {name!r}; there are no options here")
        return
    try:
        type(plug_in).model_validate(dict(options))
    except ValidationError as error:
        for path, message in worded(error, type(plug_in)):
            yield Problem(file, _joined(where, path), message)


def option_names(plug_in: Any) -> dict[str, str]:
    """Describe the options that a plug-in has: what each is for and its default."""
    fields = type(plug_in).model_fields if isinstance(plug_in, WithOptions) else {}
    return {name: f"{field.description or ''} ({_default(field.default)})" for name, field in fields.items()}


def lacking(plug_in: Any) -> str:
    """Say what must be installed before a plug-in works; empty if nothing is missing.

    A plug-in names what it imports late in ``requires``, by module, with what to install for it.
    """
    needed: Mapping[str, str] = getattr(plug_in, "requires", {})
    missing = [
        f"{module}; install {wanted}" for module, wanted in needed.items() if find_spec(module) is None
    ]
    return f"needs {', '.join(missing)}" if missing else ""


def _joined(where: str, path: tuple[str | int, ...]) -> str:
    tail = key_path(*path)
    return f"{where}.{tail}" if tail else where


def _default(value: object) -> str:
    if isinstance(value, tuple):
        return "none if not given" if not value else f"{list(value)} if not given"
    return "none if not given" if value is None else f"{value!r} if not given"
