"""Which units may share a load: those that are in focus together and alike in what the job asks for."""

from collections import Counter
from collections.abc import Collection, Iterable
from dataclasses import dataclass

from nesting.job.job import Blank, Job, Machine, OrderLine

Key = tuple[str, ...]
"""What the units of a load have in common, in the order of the job's `same_in_load`."""

Claim = tuple[str, Key]
"""Units of one blank (its name) with one key."""


Stage = tuple[float, tuple[str, ...]]
"""A focus height (mm) and the blanks, by name, that are marked at it."""


@dataclass(frozen=True)
class Group:
    """Blanks of which units with one key may share a load.

    `stages` go from the lowest focus height up; there are several only if the machine can refocus.
    """

    stages: tuple[Stage, ...]
    key: Key = ()

    @property
    def blanks(self) -> tuple[str, ...]:
        """The blanks' names."""
        return tuple(name for _, names in self.stages for name in names)

    def heights(self, blanks: Collection[str]) -> dict[str, float]:
        """Give the focus height of some of its blanks, lowest first."""
        return {name: height for height, names in self.stages for name in names if name in blanks}

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


def load_groups(job: Job, claims: Iterable[Claim], *, every: bool = False) -> list[Group]:
    """List the largest groups that may share a load; a blank may be in several of one key.

    With `every`, also those that share it without refocusing, though they are part of larger ones.
    """
    named: dict[Key, list[str]] = {}
    for blank, key in claims:
        named.setdefault(key, []).append(blank)
    blanks = {blank.name: blank for blank in job.blanks}
    found = []
    for key, ordered in sorted(named.items()):
        there = [blanks[name] for name in ordered]
        together = [Group((stage,), key) for stage in in_focus_together(there, job.machine)]
        refocused = [Group(stages, key) for stages in refocused_together(there, job.machine)]
        found += refocused
        found += [g for g in together if every or not any(set(g.blanks) <= set(r.blanks) for r in refocused)]
    return found


def refocused_together(blanks: Collection[Blank], machine: Machine) -> list[tuple[Stage, ...]]:
    """List the largest sets of blanks that a machine can mark in one load by refocusing, as rarely as can be.

    >>> from nesting.geometry.region import Region
    >>> from nesting.job.job import Refocus
    >>> shape = Region.rectangle(30, 20)
    >>> kinds = [Blank(n, shape, h, 1, 0.2, (0,), shape, "fine") for n, h in
    ...          (("low", 4), ("top", 20), ("high", 4.6), ("far", 70))]
    >>> refocused_together(kinds, Machine(600, 400, refocus=Refocus(3, 25)))
    [((4.3, ('low', 'high')), (20.0, ('top',)))]
    """
    if machine.refocus is None:
        return []
    found: list[tuple[Stage, ...]] = []
    for lowest in sorted({blank.height for blank in blanks}):
        highest = lowest + machine.refocus.range + 1e-9
        within = [blank for blank in blanks if lowest <= blank.height <= highest]
        names = {blank.name for blank in within}
        if any(names <= {name for _, stage in known for name in stage} for known in found):
            continue
        stages = _stages(within, machine)
        if len(stages) > 1:
            found.append(stages)
    return found


def _stages(blanks: Collection[Blank], machine: Machine) -> tuple[Stage, ...]:
    """Choose the fewest focus heights for blanks: each time that at the end of the window that ends first."""
    left = {blank.name: blank.focus_window(machine) for blank in blanks}
    stages: list[Stage] = []
    while left:
        top = min(high for _, high in left.values())
        names = tuple(name for name, (low, _) in left.items() if low <= top + 1e-9)
        bottom = max(left.pop(name)[0] for name in names)
        stages.append((round((bottom + top) / 2, 9), names))
    return tuple(stages)


def in_focus_together(blanks: Iterable[Blank], machine: Machine) -> list[Stage]:
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
    found: list[Stage] = []
    for top in sorted({high for _, high in windows.values()}):
        names = tuple(n for n, (low, high) in windows.items() if low <= top + 1e-9 and high >= top - 1e-9)
        if not any(set(names) <= set(known) for _, known in found):
            bottom = max(windows[name][0] for name in names)
            found.append((round((bottom + top) / 2, 9), names))
    return found
