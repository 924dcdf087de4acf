"""In which order loads are done and which unit lies where."""

from collections import Counter
from dataclasses import replace
from datetime import date, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

import nesting
from nesting.job.job import Job, OrderLine
from nesting.packing.working_order import in_turn
from nesting.plan_values import Plan
from tests.planned import planned
from tests.plans import hand_made_job
from tests.strategies import jobs

DAY = date(2026, 9, 1)


def with_orders(*orders: OrderLine) -> Job:
    """Give the hand-made job other orders, with stock enough."""
    job = hand_made_job()
    return replace(job, stock=tuple(replace(s, quantity=None) for s in job.stock), orders=orders)


def artworks_of(plan: Plan) -> list[set[str | None]]:
    """List the markings of each load."""
    return [{filling.marking for filling in load.fillings} for load in plan.loads]


def test_lines_come_by_due_date_then_priority_then_artwork() -> None:
    """A due date goes before a priority, and lines equal in both stand together if their artwork is one."""
    lines = (
        OrderLine("a", "fob", 1, ("bar",)),
        OrderLine("b", "fob", 1, ("frame",)),
        OrderLine("c", "fob", 1, ("bar",)),
        OrderLine("urgent", "fob", 1, ("frame",), priority=1),
        OrderLine("due", "fob", 1, ("bar",), due=DAY, priority=9),
    )
    assert [line.name for line in in_turn(with_orders(*lines))] == ["due", "urgent", "a", "c", "b"]


def test_artwork_is_marked_together() -> None:
    """Lines that take turns in the job fill loads with one artwork each, as far as the units go."""
    lines = [OrderLine(f"{k}", "fob", 6, (("bar", "frame")[k % 2],)) for k in range(8)]
    plan = planned(with_orders(*lines))
    most = max(len(load.fillings) for load in plan.loads)
    assert 6 < most < 48  # otherwise loads would be apart anyway, or one would hold everything
    mixed = sum(len(found) > 1 for found in artworks_of(plan))
    assert mixed <= 1


def test_an_early_line_is_in_the_first_loads() -> None:
    """Whatever its place in the job, what is due first fills the first loads."""
    late = [OrderLine(f"late {k}", "fob", 15, ("frame",), due=DAY + timedelta(k + 1)) for k in range(3)]
    plan = planned(with_orders(*late, OrderLine("early", "fob", 3, ("bar",), due=DAY)))
    assert len(plan.loads) > 1
    assert {f.unit.number for f in plan.loads[0].fillings if f.unit.line == "early"} == {1, 2, 3}


@settings(max_examples=6, deadline=None)
@given(job=jobs(), data=st.data())
def test_no_load_is_more_urgent_than_one_before(job: Job, data: st.DataObject) -> None:
    """Loads come in the order of the most urgent unit in each; due dates cost neither sheet nor load."""
    dues = st.one_of(st.none(), st.integers(0, 3).map(lambda days: DAY + timedelta(days)))
    orders = tuple(replace(line, due=data.draw(dues)) for line in job.orders)
    plan = planned(replace(job, orders=orders))
    places = {line.name: k for k, line in enumerate(orders)}
    turns = [(line.due or date.max, line.priority) for line in orders]
    urgent = [min(turns[places[f.unit.line]] for f in load.fillings) for load in plan.loads]
    assert urgent == sorted(urgent)
    report = nesting.check_plan(plan)
    assert report.ok, report
    plain = planned(replace(job, orders=tuple(replace(line, due=None, priority=5) for line in orders)))
    assert len(plan.sheets) == len(plain.sheets)
    counts = [Counter(f.unit.line for load in one.loads for f in load.fillings) for one in (plan, plain)]
    assert sum(counts[0].values()) == sum(counts[1].values())
