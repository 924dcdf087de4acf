"""Which units may share a load: those that are in focus together and alike in what the job asks for."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from nesting.job.job import Blank, Job, Machine, OrderLine

Key = tuple[str, ...]
"""What the units of a load have in common, in the order of the job's `same_in_load`."""

Claim = tuple[str, Key]
"""Units of one blank (its name) with one key."""


@dataclass(frozen=True)
class Group:
    """Blanks, by name, of which units with one key may share a load, and the focus height (mm) for them."""

    focus_height: float
    blanks: tuple[str, ...]
    key: Key = ()

    @property
    def claims(self) -> tuple[Claim, ...]:
        """The units that it may hold."""
        return tuple((blank, self.key) for blank in self.blanks)


def key_of(job: Job, line: OrderLine, blank: Blank) -> Key:
    """Say what a unit of an order line must share with every other unit of its load."""
    values = {"setting": blank.setting, "finish": blank.finish or "", "customer": line.customer or ""}
    return tuple(values[name] for name in job.same_in_load)


def claims_of(job: Job) -> dict[Claim, int]:
    """Count the units ordered of each blank and key, in the job's order of blanks."""
    blanks = {blank.name: blank for blank in job.blanks}
    counts: Counter[Claim] = Counter()
    for line in job.orders:
        counts[line.blank, key_of(job, line, blanks[line.blank])] += line.quantity
    place = {name: k for k, name in enumerate(blanks)}
    return {
        claim: counts[claim] for claim in sorted(counts, key=lambda c: (place[c[0]], c[1])) if counts[claim]
    }


def load_groups(job: Job, claims: Iterable[Claim]) -> list[Group]:
    """List the largest groups that may share a load; a blank may be in several of one key."""
    named: dict[Key, list[str]] = {}
    for blank, key in claims:
        named.setdefault(key, []).append(blank)
    blanks = {blank.name: blank for blank in job.blanks}
    return [
        Group(height, names, key)
        for key, ordered in sorted(named.items())
        for height, names in in_focus_together([blanks[name] for name in ordered], job.machine)
    ]


def in_focus_together(blanks: Iterable[Blank], machine: Machine) -> list[tuple[float, tuple[str, ...]]]:
    """List the largest sets of blanks with a common focus height, lowest first, each with that height.

    The height is the middle of the range that keeps all of them in focus.

    >>> from nesting.geometry.region import Region
    >>> shape = Region.rectangle(30, 20)
    >>> low, high, top = (Blank(n, shape, h, 1, 0.2, (0,), shape, "fine") for n, h in
    ...                   (("low", 4), ("high", 4.6), ("top", 5.4)))
    >>> in_focus_together([low, high, top], Machine(600, 400))
    [(4.3, ('low', 'high')), (5.0, ('high', 'top'))]
    """
    windows = {blank.name: blank.focus_window(machine) for blank in blanks}
    found: list[tuple[float, tuple[str, ...]]] = []
    for top in sorted({high for _, high in windows.values()}):
        names = tuple(n for n, (low, high) in windows.items() if low <= top + 1e-9 and high >= top - 1e-9)
        if not any(set(names) <= set(known) for _, known in found):
            bottom = max(windows[name][0] for name in names)
            found.append((round((bottom + top) / 2, 9), names))
    return found
