"""Sheets and loads of small random jobs, held against trying everything out.

Blanks and sheets are made of square cells, so that whether blanks fit can be tried cell by cell: what
fits at all also fits with every blank pushed to the lower left, and then its corners are on cells.
"""

import random
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from itertools import combinations_with_replacement, product

import pytest

from nesting.geometry.region import Region
from nesting.job.job import Blank, Costs, Job, Machine, MarkSetting, OrderLine, Stock
from nesting.packing.choice import pack
from nesting.packing.loads import plan_sheets

CELL_MM, WEB_MM = 20.0, 2.0
LOW_MM, HIGH_MM = 4.0, 30.0
JOBS = 30
SHEET_COST = 6
"""In loads."""

Sides = tuple[int, int]
Counts = tuple[int, ...]


@dataclass(frozen=True)
class Small:
    """A small job: the sheet and the blanks in cells, which blanks are high, and order lines.

    A line is a blank's index, a customer and a quantity.
    """

    sheet: Sides
    blanks: tuple[Sides, ...]
    high: tuple[bool, ...]
    lines: tuple[tuple[int, str, int], ...]
    by_customer: bool

    def job(self) -> Job:
        """Write it as a job; blanks do not turn, and a web stands between cells."""
        kinds = []
        for k, (wide, deep) in enumerate(self.blanks):
            shape = Region.rectangle(CELL_MM * wide - WEB_MM, CELL_MM * deep - WEB_MM)
            height = HIGH_MM if self.high[k] else LOW_MM
            kinds.append(Blank(str(k), shape, height, 0, 0, (0.0,), shape, "fine"))
        across, along = (CELL_MM * side + WEB_MM for side in self.sheet)
        return Job(
            "small",
            Machine(600, 400),
            (MarkSetting("fine"),),
            (Stock("board", across, along, 3, "plywood"),),
            tuple(kinds),
            (),
            tuple(OrderLine(str(i), str(k), n, customer=who) for i, (k, who, n) in enumerate(self.lines)),
            web=WEB_MM,
            same_in_load=("customer",) if self.by_customer else (),
        )

    def groups(self) -> list[list[tuple[int, int]]]:
        """List what may share a load: blanks of one height and, if asked, one customer, with their units."""
        units: dict[tuple[bool, str], dict[int, int]] = defaultdict(lambda: defaultdict(int))
        for k, who, n in self.lines:
            units[self.high[k], who if self.by_customer else ""][k] += n
        return [list(group.items()) for group in units.values()]


def small(seed: int) -> Small:
    """Make up a small job in which every blank fits the sheet and is ordered."""
    rng = random.Random(seed)
    sheet = rng.choice([(4, 3), (5, 3), (5, 4)])
    kinds = rng.choice([2, 3, 3])
    sides = [(w, d) for w in range(1, 4) for d in range(1, 4)]
    blanks = tuple(rng.sample(sides, kinds))
    lines = [
        (k, who, rng.randint(1, 9)) for k in range(kinds) for who in "ab" if who == "a" or rng.random() < 0.5
    ]
    high = tuple(rng.random() < 0.3 for _ in blanks)
    return Small(sheet, blanks, high, tuple(lines), rng.random() < 0.4)


def fits(sheet: Sides, blanks: Sequence[Sides]) -> bool:
    """Tell whether blanks fit on a sheet, by trying every cell for one after the other."""
    wide, deep = sheet

    def masks(blank: Sides) -> list[int]:
        w, d = blank
        row = (1 << w) - 1
        return [
            sum(row << (wide * (y + dy) + x) for dy in range(d))
            for y in range(deep - d + 1)
            for x in range(wide - w + 1)
        ]

    @cache
    def rest(k: int, taken: int) -> bool:
        if k == len(largest):
            return True
        return any(not mask & taken and rest(k + 1, taken | mask) for mask in masks(largest[k]))

    largest = sorted(blanks, key=lambda blank: -blank[0] * blank[1])
    return sum(w * d for w, d in blanks) <= wide * deep and rest(0, 0)


def layouts(what: Small) -> list[Counts]:
    """List the pocket counts that fit on a sheet and to which none can be added."""
    most = [(what.sheet[0] // w) * (what.sheet[1] // d) for w, d in what.blanks]
    fitting = {
        counts
        for counts in product(*(range(n + 1) for n in most))
        if fits(what.sheet, [b for b, n in zip(what.blanks, counts, strict=True) for _ in range(n)])
    }
    return [n for n in sorted(fitting) if not any(more(n, k) in fitting for k in range(len(n)))]


def more(counts: Counts, k: int) -> Counts:
    return (*counts[:k], counts[k] + 1, *counts[k + 1 :])


def shared_out(total: int, parts: int) -> Iterator[Counts]:
    if parts == 1:
        yield (total,)
        return
    for first in range(total + 1):
        yield from ((first, *others) for others in shared_out(total - first, parts - 1))


def group_loads(sheets: Sequence[Counts], group: Sequence[tuple[int, int]]) -> int:
    """Count the loads that a group needs on some sheets: one more until they do."""
    for total in range(1, sum(n for _, n in group) + 1):
        for often in shared_out(total, len(sheets)):
            if all(sum(s[k] * t for s, t in zip(sheets, often, strict=True)) >= n for k, n in group):
                return total
    raise AssertionError("there is a pocket for every blank")


def loads_on(what: Small, known: Sequence[Counts], count: int) -> int | None:
    """Give the fewest loads on so many sheets; None if they have no pocket for some blank."""
    chosen = [
        sheets
        for sheets in combinations_with_replacement(known, count)
        if all(any(sheet[k] for sheet in sheets) for k in range(len(what.blanks)))
    ]
    return min((sum(group_loads(s, group) for group in what.groups()) for s in chosen), default=None)


def tried_out(what: Small) -> tuple[int, int]:
    """Give the fewest sheets, and the fewest loads on so many."""
    known = layouts(what)
    for count in range(1, len(what.blanks) + 1):
        loads = loads_on(what, known, count)
        if loads is not None:
            return count, loads
    raise AssertionError("every blank fits on a sheet by itself")


def least_cost(what: Small, sheet: int, load: int) -> int:
    """Give the least that sheets and loads cost, for as many sheets as can be worth it."""
    known, best, count = layouts(what), 10**6, 1
    while count * sheet + len(what.groups()) * load < best:
        loads = loads_on(what, known, count)
        if loads is not None:
            best = min(best, count * sheet + loads * load)
        count += 1
    return best


@pytest.mark.parametrize("seed", range(JOBS))
def test_no_other_choice_is_better(seed: int) -> None:
    """Sheets and loads are as few as trying everything out finds, and the limits stated do not pass them."""
    what = small(seed)
    sheets, loads = tried_out(what)
    plan = plan_sheets(what.job(), pack=pack, effort=3)
    assert (len(plan.sheets), len(plan.loads), plan.unplaced) == (sheets, loads, ())
    assert plan.bound <= sheets and plan.loads_bound <= loads


@pytest.mark.parametrize("seed", [100, 101, 102, 104, 106, 107, 108])
def test_no_other_choice_is_cheaper(seed: int) -> None:
    """With costs the least is found, and the limit does not pass it; these jobs have few layouts to try."""
    what = small(seed)
    least = least_cost(what, SHEET_COST, 1)
    plan = plan_sheets(replace(what.job(), costs=Costs(sheet=SHEET_COST, load=1)), pack=pack, effort=1)
    assert SHEET_COST * len(plan.sheets) + len(plan.loads) == least
    assert plan.cost_bound <= least + 1e-9
