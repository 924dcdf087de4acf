"""A plan extended by what is ordered since."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

import nesting
from nesting import make_plan
from nesting.errors import InputError
from nesting.extending import _together, extend, extended_job
from nesting.job.job import Job, OrderLine
from nesting.plan_file import plan_from_json, plan_to_json
from nesting.plan_values import Plan, Unit
from nesting.remaking import remake
from tests.planned import planned
from tests.plans import hand_made_job, hand_made_plan
from tests.strategies import jobs

EFFORT = 0.01


def with_orders(*orders: OrderLine, once: bool = False) -> Job:
    """Give the hand-made job other orders, with stock enough."""
    job = hand_made_job()
    stock = tuple(replace(stock, quantity=None) for stock in job.stock)
    return replace(job, stock=stock, orders=orders, sheet_use="once" if once else "reload")


def fillings(plan: Plan) -> Iterator[tuple[str, int, Unit]]:
    """List what lies where in a plan."""
    return ((load.sheet, f.pocket, f.unit) for load in plan.loads for f in load.fillings)


def test_free_pockets_come_before_new_sheets() -> None:
    """What has pockets on sheets of the plan is loaded there, in those that a load of it leaves empty."""
    plan = hand_made_plan()
    extended = extend(plan, with_orders(OrderLine("new", "coaster", 1, ("bar",))), effort=EFFORT)
    assert list(fillings(extended)) == [("A", 2, Unit("new", 1))]  # load 2 has a coaster in pocket 1
    assert not extended.sheets and extended.bound == 0
    assert any("which load 2 of the earlier plan leaves empty" in warning for warning in extended.warnings)
    assert nesting.check_plan(extended).ok
    assert plan_from_json(plan_to_json(extended)) == extended


def test_two_loads_are_not_told_to_lie_in_the_same_pockets() -> None:
    """What one load of the extension may fill beside an earlier load is not offered to another."""
    plan = hand_made_plan()
    extended = extend(plan, with_orders(OrderLine("new", "coaster", 1, ("bar",))), effort=EFFORT)
    (load,) = extended.loads
    twice = replace(extended, loads=(load, replace(load, number=2)))
    assert [warning.split(" of sheet")[0] for warning in _together(plan, twice)] == ["load 1 fills pocket 2"]


def test_what_fits_no_pocket_gets_a_sheet_with_a_letter_of_its_own() -> None:
    """A sheet is cut for a new kind of blank alone, although a load would be saved by one for all."""
    job = with_orders(OrderLine("new", "tile", 2, ("bar",)), OrderLine("more", "fob", 1))
    tile = replace(job.blanks[0], name="tile", footprint=nesting.Footprint.rectangle(50, 45))
    tile = replace(tile, mark_area=nesting.Footprint.rectangle(40, 40).moved(5, 2))
    extended = extend(hand_made_plan(), replace(job, blanks=(*job.blanks, tile)), effort=EFFORT)
    assert [sheet.name for sheet in extended.sheets] == ["B"] and [s.name for s in extended.kept] == ["A"]
    assert {unit.line: sheet for sheet, _, unit in fillings(extended)} == {"new": "B", "more": "A"}
    assert not extended.unplaced and nesting.check_plan(extended).ok


def test_pockets_used_once_are_not_free() -> None:
    """Where every unit has a pocket of its own, only those that no load has filled are filled."""
    first = make_plan(with_orders(OrderLine("old", "fob", 3), once=True), effort=EFFORT)
    second = extend(first, with_orders(OrderLine("new", "fob", 2), once=True), effort=EFFORT)
    third = extend(second, with_orders(OrderLine("last", "fob", 1), once=True), effort=EFFORT)
    places = [place[:2] for plan in (first, second, third) for place in fillings(plan)]
    assert len(places) == len(set(places)) == 6
    assert [sheet.name for sheet in (*second.sheets, *third.sheets)] == ["B", "C"]


def test_sheets_of_earlier_plans_are_remembered() -> None:
    """An extended plan can be extended again: sheets it does not load and units made before are known."""
    first = hand_made_plan()
    job = with_orders(*first.job.orders, OrderLine("tiles", "tile", 1))
    square = nesting.Footprint.rectangle(50, 45)
    tile = replace(job.blanks[1], name="tile", footprint=square, mark_area=square)
    job = replace(job, blanks=(*job.blanks, tile))
    second = extend(first, job, effort=EFFORT)
    assert next(fillings(second))[2] == Unit("tiles", 1) and not second.kept
    more = replace(job, orders=(*job.orders, OrderLine("fobs", "fob", 1)))
    third = extend(second, more, effort=EFFORT)
    assert [(sheet, unit) for sheet, _, unit in fillings(third)] == [("A", Unit("fobs", 1))]


def test_only_the_units_that_are_new_are_made() -> None:
    """Of a line that grew the units beyond those of the plan are made, under their numbers."""
    plan = hand_made_plan()
    lines = (replace(plan.job.orders[0], quantity=6, spares=2), *plan.job.orders[1:])
    extended = extend(plan, with_orders(*lines), effort=EFFORT)
    assert sorted(unit.number for _, _, unit in fillings(extended)) == [4, 5, 6]
    assert [(o.name, o.numbers, o.spares) for o in extended.job.orders] == [("bars", (4, 5, 6), 2)]
    assert any("units 4-6 are new" in warning for warning in extended.warnings)
    assert nesting.check_plan(extended).ok


def test_what_was_not_placed_is_made_by_the_extension() -> None:
    """A unit that found no pocket in the plan is not taken for made."""
    plan = hand_made_plan()
    last = replace(plan.loads[1], fillings=plan.loads[1].fillings[:1])
    plan = replace(plan, loads=(plan.loads[0], last), unplaced=(("plain", 1),))
    extended = extend(plan, with_orders(*plan.job.orders), effort=EFFORT)
    assert [unit for _, _, unit in fillings(extended)] == [Unit("plain", 1)]


def test_a_plan_of_remade_units_can_be_extended() -> None:
    """What the plan behind a remake makes counts as made."""
    plan = hand_made_plan()
    again = remake(plan, ["bars: 1"], effort=EFFORT)
    new = extended_job(again, with_orders(*plan.job.orders, OrderLine("new", "fob", 1)))
    assert [order.name for order in new.orders] == ["new"]


def test_order_lines_that_are_not_those_of_the_plan_are_refused() -> None:
    """Every clash of names is reported at once, and so is a job with nothing new."""
    plan = hand_made_plan()
    bars, frames, plain = plan.job.orders
    texts = replace(plain, texts={"a": "b"})
    job = with_orders(replace(bars, artworks=("frame",)), replace(frames, quantity=1), texts)
    with pytest.raises(InputError) as caught:
        extended_job(plan, job)
    text = [str(problem) for problem in caught.value.problems]
    assert "artwork 'frame', there 'bar'" in text[0] and "units 1-2" in text[1] and "texts" in text[2]
    with pytest.raises(InputError, match="every unit is in the plan already"):
        extended_job(plan, with_orders(bars, frames, plain))
    rows = [OrderLine("row 2", "fob", 1, source=f"{name}.csv, row 2") for name in ("old", "new")]
    old = replace(plan, job=replace(plan.job, made=(replace(rows[0], numbers=(1,)),)))
    with pytest.raises(InputError, match=r"new\.csv, row 2"):
        extended_job(old, with_orders(rows[1]))
    clash = with_orders(OrderLine("new", "fob", 1))
    clash = replace(clash, stock=tuple(replace(stock, name="A") for stock in clash.stock))
    with pytest.raises(InputError, match="a sheet of the plan has this name"):
        extend(plan, clash, effort=EFFORT)


@settings(max_examples=5, deadline=None)
@given(job=jobs(), data=st.data())
def test_every_unit_is_made_once_whatever_comes_later(job: Job, data: st.DataObject) -> None:
    """Whatever part of a job is planned first, the rest is placed, in free pockets before new sheets."""
    assume(len(job.orders) > 1)
    count = data.draw(st.integers(1, len(job.orders) - 1))
    plan = planned(replace(job, orders=job.orders[:count]))
    assume(plan.loads)
    before = plan_to_json(plan)
    extended = extend(plan, job, effort=EFFORT)
    assert plan_to_json(plan) == before
    made = Counter(unit for one in (plan, extended) for _, _, unit in fillings(one))
    assert set(made.values()) <= {1}
    assert sum(made.values()) + sum(n for _, n in extended.unplaced) == sum(o.quantity for o in job.orders)
    report = nesting.check_plan(extended)
    assert report.ok, report
    there = {(s.name, p.number): p.outline for s in plan.sheets for p in s.pockets}
    assert all(there[s.name, p.number] == p.outline for s in extended.kept for p in s.pockets)
    cut_for = {pocket.blank for sheet in plan.sheets for pocket in sheet.pockets}
    if job.sheet_use == "once":
        places = [place[:2] for one in (plan, extended) for place in fillings(one)]
        assert len(set(places)) == len(places)
    elif all(order.blank in cut_for for order in extended.job.orders):
        assert not extended.sheets


def test_a_pocket_that_is_not_free_is_told_by_the_check() -> None:
    """The check finds a unit in a pocket of a kept sheet that must not be filled again."""
    extended = extend(hand_made_plan(), with_orders(OrderLine("new", "fob", 1)), effort=EFFORT)
    (kept,) = extended.job.kept
    full = replace(kept, pockets=tuple(replace(pocket, free=False) for pocket in kept.pockets))
    report = nesting.check_plan(replace(extended, job=replace(extended.job, kept=(full,))))
    assert {violation.kind for violation in report.violations} == {"pocket"} and "not free" in str(report)
