"""Named errors.

::

    NestingError                 exit code 3
    ├── InputError (ValueError)  exit code 2: the job, a file or an argument is wrong
    ├── OutputError (OSError)    exit code 2: the output folder cannot or must not be written
    └── PlugInError              exit code 3: an entry point is missing, doubled or fails to load
"""

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong in the input.

    Attributes
    ----------
    file
        The file it was found in, as the user named it; empty for an argument of the API.
    where
        Key path (``blanks[2].footprint.width``) or row and column (``row 4, column quantity``).
    message
        What was found and what is allowed.
    """

    file: str
    where: str
    message: str

    def __str__(self) -> str:
        return ": ".join(part for part in (self.file, self.where, self.message) if part)


class NestingError(Exception):
    """Base of every error this package raises on purpose."""

    exit_code = 3


class InputError(NestingError, ValueError):
    """The input is wrong; nothing was written.

    Attributes
    ----------
    problems
        Everything found wrong, in the order of the input.

    Examples
    --------
    >>> print(InputError([Problem("job.toml", "title", "missing"), Problem("job.toml", "unit", "found 7")]))
    job.toml: title: missing
    job.toml: unit: found 7
    """

    exit_code = 2

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(map(str, self.problems)))

    @classmethod
    def single(cls, message: str, *, file: str = "", where: str = "") -> "InputError":
        """Make the error for one problem."""
        return cls([Problem(file, where, message)])


class OutputError(NestingError, OSError):
    """The output cannot be written here; what was there before is untouched."""

    exit_code = 2


class PlugInError(NestingError):
    """A plug-in is missing, named twice, or failed to load."""
