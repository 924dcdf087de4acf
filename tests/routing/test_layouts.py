"""Layouts chosen by machine time: the same pockets, soundly placed, never slower."""

from dataclasses import replace

from nesting.check import check_plan
from nesting.geometry.region import Region
from nesting.job.job import Job, OrderLine
from nesting.packing.choice import pack
from nesting.packing.result import Placement
from nesting.packing.sheet_plan import LoadPlan, PlacedSheet, SheetPlan
from nesting.packing.stop import Stop
from nesting.plan import make_plan
from nesting.routing.layouts import lay_out_for_time
from tests.plans import hand_made_job


def fobs() -> Job:
    """Six fobs on a sheet."""
    job = hand_made_job()
    return replace(job, orders=(OrderLine("frames", "fob", 6, ("frame",)),))


def staggered(job: Job) -> SheetPlan:
    """Lay the fobs out with no two of them in a row."""
    placements = tuple(
        Placement("fob", 0, 10.0 + 36 * (k % 3), 10.0 + 50 * (k // 3) + 3.7 * (k % 3), 0.0) for k in range(6)
    )
    sheet = PlacedSheet(job.stock[0], placements)
    loads = (LoadPlan(0, 4.2, (("fob", 6),)),)
    return SheetPlan((sheet,), loads, (), bound=1, proven=True, reason="", loads_bound=1, explanation="")


def rows(plan: SheetPlan) -> float:
    """Count the different heights at which blanks lie."""
    return float(len({(p.y, p.turn) for p in plan.sheets[0].placements}))


def test_rows_are_preferred() -> None:
    """Where fewer rows save time, blanks are laid out in rows: as many, apart and inside the sheet."""
    job = fobs()
    plan, saved = lay_out_for_time(job, staggered(job), rows, pack, Stop(effort=2), 1)
    assert saved == rows(staggered(job)) - rows(plan) >= 2
    assert plan.sheets[0].pockets == {"fob": 6}
    blank = next(blank for blank in job.blanks if blank.name == "fob")
    lying = [p.of(blank.footprint).bounds for p in plan.sheets[0].placements]
    inside = Region.rectangle(200, 150).bounds
    for k, (x0, y0, x1, y1) in enumerate(lying):
        assert inside[0] + 8 <= x0 < x1 <= inside[2] - 8
        assert inside[1] + 8 <= y0 < y1 <= inside[3] - 8
        for a0, b0, a1, b1 in lying[:k]:
            assert a0 >= x1 + 3 or a1 + 3 <= x0 or b0 >= y1 + 3 or b1 + 3 <= y0


def test_kept_where_nothing_is_saved() -> None:
    """A layout that no other one beats stays as it is."""
    job = fobs()
    plan, saved = lay_out_for_time(job, staggered(job), lambda _: 7.0, pack, Stop(effort=1), 1)
    assert (plan, saved) == (staggered(job), 0)


def test_a_plan_says_what_is_saved() -> None:
    """A whole plan is sound, takes no longer than the plain one, and knows both times."""
    plan = make_plan(hand_made_job(), effort=2)
    assert check_plan(plan).ok
    assert plan.machine_seconds <= plan.plain_seconds
    assert plan.layout_saving >= 0
