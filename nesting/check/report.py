"""What a check found."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Literal, get_args

Kind = Literal[
    "overlap", "gap", "web", "margin", "keep-out", "sheet", "quantity", "turn", "mirror", "grid", "number",
    "pocket", "clearance", "kerf", "path", "travel", "load", "due", "unit", "artwork", "marking",
    "mark-area", "sweep", "height", "seat", "bound",
]  # fmt: skip

KINDS: tuple[Kind, ...] = get_args(Kind)
"""Every kind of violation; `nesting.check` says what each means."""


@dataclass(frozen=True, slots=True)
class Violation:
    """One thing that is not as it must be.

    Attributes
    ----------
    kind
        One of `KINDS`.
    place
        Where: ``sheet A, pocket 4`` or ``placements[7] (fob)``.
    message
        What was found, what must hold, and what to do.
    """

    kind: Kind
    place: str
    message: str

    def __str__(self) -> str:
        return f"{self.kind}: {self.place}: {self.message}"


@dataclass(frozen=True)
class Report:
    """The outcome of a check.

    Attributes
    ----------
    violations
        Everything found wrong; empty for a sound result.
    checked
        How many of what were looked at.

    Examples
    --------
    >>> print(Report((), {"sheets": 1, "placements": 12}))
    sound: 1 sheets, 12 placements checked
    >>> print(Report((Violation("turn", "placements[0] (fob)", "turned by 45°; allowed: 0, 90"),)))
    turn: placements[0] (fob): turned by 45°; allowed: 0, 90
    """

    violations: tuple[Violation, ...]
    checked: Mapping[str, int] = field(default_factory=dict)

    @property
    def ok(self) -> bool:
        """Whether nothing was found wrong."""
        return not self.violations

    @property
    def kinds(self) -> frozenset[Kind]:
        """The kinds of violation found."""
        return frozenset(violation.kind for violation in self.violations)

    def __str__(self) -> str:
        if self.violations:
            return "\n".join(map(str, self.violations))
        counts = ", ".join(f"{count} {name}" for name, count in self.checked.items())
        return f"sound: {counts or 'nothing'} checked"


@dataclass
class Findings:
    """Collects violations while a check runs."""

    violations: list[Violation] = field(default_factory=list)
    checked: dict[str, int] = field(default_factory=dict)

    def add(self, kind: Kind, place: str, message: str) -> None:
        """Note one violation."""
        self.violations.append(Violation(kind, place, message))

    def count(self, **looked_at: int) -> None:
        """Count what was looked at."""
        for name, number in looked_at.items():
            self.checked[name] = self.checked.get(name, 0) + number

    def report(self, also: Iterable[Violation] = ()) -> Report:
        """Close the check."""
        return Report((*self.violations, *also), dict(self.checked))
