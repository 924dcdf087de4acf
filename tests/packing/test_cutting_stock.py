"""The choice of layouts held against a known instance of the cutting stock problem.

Chvátal, *Linear Programming* (1983), chapter 13: rolls 100 wide, finals of 45, 36, 31 and 14 of which 97,
610, 395 and 211 are ordered, need 453 rolls (from memory). Here a roll is a load of a sheet as high as
every blank, so a layout is a choice of widths.
"""

from itertools import combinations_with_replacement, product

import pytest

import nesting
from nesting.geometry.region import Region
from nesting.job.job import Blank, Costs, Job, Machine, MarkSetting, OrderLine, Stock
from nesting.plan_file import plan_from_json, plan_to_json

ROLL, ORDERED, ROLLS = 100, {45: 97, 36: 610, 31: 395, 14: 211}, 453
WEB_MM = 1.0


def strips_job(costs: Costs | None) -> Job:
    """State the instance in strips: each leaves a web beside it, and so does the sheet's edge."""
    shapes = {width: Region.rectangle(width - WEB_MM, 48) for width in ORDERED}
    return Job(
        "strips",
        Machine(600, 400, kerf={"plywood": 0.0}),
        (MarkSetting("fine"),),
        (Stock("board", ROLL + WEB_MM, 48 + 2 * WEB_MM, 3, "plywood"),),
        tuple(Blank(str(w), shape, 5, 0, 0, (0.0,), shape, "fine") for w, shape in shapes.items()),
        (),
        tuple(OrderLine(f"finals {width}", str(width), count) for width, count in ORDERED.items()),
        web=WEB_MM,
        costs=costs,
    )


def layouts() -> list[tuple[int, ...]]:
    """List every choice of widths that a roll holds."""
    within = product(*(range(ROLL // width + 1) for width in ORDERED))
    return [n for n in within if sum(w * c for w, c in zip(ORDERED, n, strict=True)) <= ROLL]


def least_loads(one: tuple[int, ...], other: tuple[int, ...]) -> float:
    """Try how often two layouts must be loaded, every number of loads of the first one."""
    least = float("inf")
    for first in range(max(ORDERED.values()) + 1):
        left = [max(n - first * c, 0) for n, c in zip(ORDERED.values(), one, strict=True)]
        if all(c or not n for n, c in zip(left, other, strict=True)):
            second = max((-(-n // c) for n, c in zip(left, other, strict=True) if n), default=0)
            least = min(least, first + second)
    return least


def test_the_fewest_rolls_are_found_and_proven() -> None:
    """The 453 loads of the textbook are reached with three layouts, and proven to be the fewest."""
    plan = nesting.make_plan(strips_job(Costs(sheet=0.1, load=1.0)), effort=6)
    assert (len(plan.loads), len(plan.sheets), plan.unplaced) == (ROLLS, 3, ())
    assert (plan.loads_bound, plan.loads_proven) == (ROLLS, True)
    assert plan.cost is not None and plan.cost.proven
    assert plan.cost.total == pytest.approx(ROLLS + 3 * 0.1)
    assert nesting.check_plan(plan).ok
    assert plan_from_json(plan_to_json(plan)) == plan


def test_no_two_layouts_do_with_so_few() -> None:
    """Three layouts are the fewest for 453 loads: any two need more, as trying them all shows."""
    known = [n for n in layouts() if any(n)]
    least = min(least_loads(one, other) for one, other in combinations_with_replacement(known, 2))
    plan = nesting.make_plan(strips_job(None), effort=6)
    assert ROLLS < least == len(plan.loads) and len(plan.sheets) == 2
