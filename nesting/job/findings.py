"""Everything found wrong in a job, gathered so that the user sees it all at once."""

from collections.abc import Iterable
from difflib import get_close_matches

from nesting.errors import InputError, Problem


class Findings:
    """The problems of one job and the files it names; `file` is the one meant when none is given."""

    def __init__(self, file: str) -> None:
        self.file = file
        self._problems: dict[Problem, None] = {}

    def add(self, where: str, message: str, file: str | None = None) -> None:
        """Note a problem; the same problem is kept once."""
        self.extend([Problem(self.file if file is None else file, where, message)])

    def extend(self, problems: Iterable[Problem]) -> None:
        """Note problems that something else found."""
        self._problems.update(dict.fromkeys(problems))

    def __bool__(self) -> bool:
        """Whether anything is wrong."""
        return bool(self._problems)

    def error(self) -> InputError:
        """Make the error that holds everything noted, what is wrong in the job document first."""
        return InputError(sorted(self._problems, key=lambda problem: problem.file != self.file))


def nearest(found: str, known: Iterable[str]) -> str:
    """Say which known name was probably meant, and what is known.

    >>> nearest("coastr", ["coaster", "pen"])
    "; did you mean 'coaster'? known: 'coaster', 'pen'"
    >>> nearest("x", [])
    '; none is known'
    """
    names = list(dict.fromkeys(known))
    if not names:
        return "; none is known"
    folded = {name.casefold(): name for name in names}
    close = get_close_matches(found.casefold(), folded, n=1)
    guess = f"did you mean {folded[close[0]]!r}? " if close else ""
    rest = ", ..." if len(names) > 12 else ""
    return f"; {guess}known: {', '.join(map(repr, names[:12]))}{rest}"


def key_path(*parts: str | int) -> str:
    """Write a key path; list places count from 0.

    >>> key_path("blanks", 2, "footprint", "width"), key_path("machine", "kerf", "birch plywood")
    ('blanks[2].footprint.width', "machine.kerf.'birch plywood'")
    """
    path = ""
    for part in parts:
        if isinstance(part, int):
            path += f"[{part}]"
        else:
            bare = part.replace("_", "").replace("-", "").isalnum() and part.isascii()
            path += ("." if path else "") + (part if bare else repr(part))
    return path
