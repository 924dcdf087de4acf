"""Spoiled units made again."""

from collections import Counter
from dataclasses import replace
from datetime import date
from itertools import combinations_with_replacement

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

import nesting
from nesting.errors import InputError
from nesting.job.job import Job, OrderLine, Refocus
from nesting.plan_file import plan_from_json, plan_to_json
from nesting.plan_values import Plan, Unit
from nesting.remaking import fewest_heights, remake
from nesting.unit_names import find_units
from tests.planned import planned
from tests.plans import hand_made_plan
from tests.strategies import jobs

Where = dict[Unit, tuple[str, int, str | None]]


def where(plan: Plan) -> Where:
    """Say on which sheet, in which pocket and with which marking each unit lies."""
    return {f.unit: (load.sheet, f.pocket, f.marking) for load in plan.loads for f in load.fillings}


def test_a_unit_lies_where_it_lay_with_what_was_on_it() -> None:
    """One spoiled unit is a load of its own, on the old sheet, and nothing is cut."""
    plan = hand_made_plan()
    again = remake(plan, ["bars, unit 3"], effort=0.1)
    assert where(again) == {Unit("bars", 3): ("A", 1, "bar on coaster")}
    (sheet,) = again.kept
    assert again.sheets == () and not sheet.cut_path.steps
    assert [p.outline for p in sheet.pockets] == [p.outline for p in plan.sheets[0].pockets]
    assert (again.bound, again.proven) == (0, True)
    assert nesting.check_plan(again).ok


def test_units_of_several_loads_share_one() -> None:
    """Units that lay in different loads of a sheet go into one, as far as their pockets differ."""
    again = remake(hand_made_plan(), ["bars, unit 2", "plain: 1", "load 1: 3"], effort=0.1)
    assert len(again.loads) == 1 and len(where(again)) == 3
    apart = remake(hand_made_plan(), ["bars: 1, 3"], effort=0.1)
    assert [len(load.fillings) for load in apart.loads] == [1, 1]  # both lay in pocket 1


def test_the_order_lines_keep_the_numbers_of_their_units() -> None:
    """The plan orders the spoiled units alone, and can itself be made again and written down."""
    again = remake(hand_made_plan(), ["bars: 2-3"], effort=0.1)
    (order,) = again.job.orders
    assert (order.name, order.quantity, order.numbers) == ("bars", 2, (2, 3))
    assert plan_from_json(plan_to_json(again)) == again
    twice = remake(again, ["bars: 3"], effort=0.1)
    assert where(twice) == {Unit("bars", 3): ("A", 1, "bar on coaster")}
    assert twice.job.title == again.job.title
    assert (again.job.kept[0].used, twice.job.kept[0].used) == (2, 3)


@settings(max_examples=6, deadline=None)
@given(job=jobs(), data=st.data())
def test_every_spoiled_unit_is_placed_once_in_its_old_pocket(job: Job, data: st.DataObject) -> None:
    """Whatever is spoiled of whatever plan, it is made again where it was, and the plan is sound."""
    plan = planned(job)
    old = where(plan)
    assume(old)
    spoiled = data.draw(st.sets(st.sampled_from(sorted(old, key=lambda u: (u.line, u.number))), min_size=1))
    before = plan_to_json(plan)
    again = remake(plan, spoiled, effort=0.01)
    assert plan_to_json(plan) == before
    placed = Counter(f.unit for load in again.loads for f in load.fillings)
    assert placed == Counter(spoiled)
    assert where(again) == {unit: old[unit] for unit in spoiled}
    assert {m.name: m for m in again.markings}.items() <= {m.name: m for m in plan.markings}.items()
    assert not again.sheets
    report = nesting.check_plan(again)
    assert report.ok, report


@given(
    st.dictionaries(
        st.integers(1, 5),
        st.tuples(st.tuples(st.integers(0, 6), st.integers(0, 4)), st.integers(1, 2)),
        min_size=1,
        max_size=4,
    )
)
def test_no_choice_of_heights_is_smaller(drawn: dict[int, tuple[tuple[int, int], int]]) -> None:
    """The heights chosen do, and trying every smaller choice finds none that does."""
    wanted = {k: ((float(low), float(low + wide)), count) for k, ((low, wide), count) in drawn.items()}

    def do(heights: tuple[float, ...] | list[float]) -> bool:
        return all(sum(low <= h <= high for h in heights) >= n for (low, high), n in wanted.values())

    found = fewest_heights(wanted)
    assert do(found)
    ends = [high for (_, high), _ in wanted.values()]
    assert not any(do(fewer) for fewer in combinations_with_replacement(ends, len(found) - 1))


def test_a_machine_that_refocuses_needs_fewer_loads() -> None:
    """Blanks of two heights share a load where the machine can refocus between them, and only there."""
    plan = hand_made_plan()
    coaster, fob = plan.job.blanks
    high = replace(fob, height=9.0)
    units = ["bars: 1", "frames: 1-2"]
    apart = replace(plan, job=replace(plan.job, blanks=(coaster, high)))
    assert [load.focus_height for load in remake(apart, units, effort=0.1).loads] == [4.0, 9.0]
    able = replace(apart.job.machine, refocus=Refocus(seconds=4.0, range=6.0))
    again = remake(replace(apart, job=replace(apart.job, machine=able)), units, effort=0.1)
    (load,) = again.loads
    assert load.focus_heights == (4.0, 9.0)
    report = nesting.check_plan(again)
    assert report.ok, report
    twice = remake(again, ["frames: 2"], effort=0.1)
    assert [load.focus_heights for load in twice.loads] == [(9.0,)] and nesting.check_plan(twice).ok


def test_what_is_due_first_is_made_first() -> None:
    """Of units that need the same pocket, the one that is due earlier is in the earlier load."""
    plan = hand_made_plan()
    orders = (
        OrderLine("late", "coaster", 2, ("bar",), due=date(2026, 9, 2)),
        OrderLine("early", "coaster", 1, ("bar",), due=date(2026, 9, 1)),
    )
    units = {1: Unit("late", 1), 2: Unit("late", 2)}
    first, second = plan.loads
    coasters = tuple(replace(f, unit=units[f.pocket]) for f in first.fillings if f.pocket < 3)
    third = (replace(second.fillings[0], unit=Unit("early", 1)),)
    plan = replace(
        plan,
        job=replace(plan.job, orders=orders),
        loads=(replace(first, fillings=coasters), replace(second, fillings=third)),
    )
    again = remake(plan, ["late: 1", "early: all"], effort=0.1)
    assert [f.unit.line for load in again.loads for f in load.fillings] == ["early", "late"]


def test_spares_are_named_where_they_could_stand_in() -> None:
    """A spare is made again like any unit; one that was not spoiled is offered instead."""
    plan = hand_made_plan()
    lines = (replace(plan.job.orders[0], spares=1), *plan.job.orders[1:])
    plan = replace(plan, job=replace(plan.job, orders=lines))
    spared = remake(plan, ["bars: 1"], effort=0.1)
    assert any("spares were made, unit 3" in warning for warning in spared.warnings)
    assert (spared.job.orders[0].quantity, spared.job.orders[0].spares) == (1, 0)
    spare = remake(plan, ["bars: 1, 3"], effort=0.1)
    assert not any("spares" in warning for warning in spare.warnings)
    assert (spare.job.orders[0].quantity, spare.job.orders[0].spares) == (2, 1)
    assert nesting.check_plan(spare).ok


@pytest.mark.parametrize(
    ("names", "found"),
    [
        (["bars, unit 3"], {("bars", 3)}),
        (["bars, 3"], {("bars", 3)}),
        (["bars: 1-2; plain 1"], {("bars", 1), ("bars", 2), ("plain", 1)}),
        (["bars:1,3", "bars: 3"], {("bars", 1), ("bars", 3)}),
        (["bars: 1 – 2 , 3"], {("bars", 1), ("bars", 2), ("bars", 3)}),
        (["frames: all"], {("frames", 1), ("frames", 2)}),
        (["load 2, pocket 4"], {("plain", 1)}),
        (["Load 1: 2, 3-4"], {("bars", 2), ("frames", 1), ("frames", 2)}),
        (["load 2: all"], {("bars", 3), ("plain", 1)}),
        ([Unit("plain", 1)], {("plain", 1)}),
    ],
)
def test_units_go_by_the_names_of_the_run_sheet(names: list[str | Unit], found: set[tuple[str, int]]) -> None:
    """Order line and unit, load and pocket, lists, ranges and all of them; each unit once."""
    units = find_units(hand_made_plan(), names)
    assert sorted((unit.line, unit.number) for unit in units) == sorted(found)


def test_every_wrong_name_is_reported_at_once() -> None:
    """Each problem names what was found and what is allowed."""
    plan = replace(hand_made_plan(), unplaced=(("frames", 1),))
    orders = (*plan.job.orders[:1], replace(plan.job.orders[1], quantity=3), plan.job.orders[2])
    plan = replace(plan, job=replace(plan.job, orders=orders))
    wrong: list[str | Unit] = [
        "bars: 4", "bars: 3-1", "bars", "bar: 1", "load 3: 1", "load 2: 2", "load 1: 1-9", "frames: 3",
        "bars: one", Unit("bars", 9), "bars: 1-999999999",
    ]  # fmt: skip
    with pytest.raises(InputError) as caught:
        find_units(plan, ["bars: 1", *wrong])
    text = [str(problem) for problem in caught.value.problems]
    assert len(text) == len(wrong)
    for piece in (
        "found 4; allowed: 1-3", "found 3-1", "no numbers of units follow", "did you mean 'bars'",
        "there is no load 3; allowed: 1 to 2", "found 2; filled in this load: 1, 4",
        "found 1-9; filled in this load: 1-4",
        "3 of frames found no place", "no numbers of units follow", "no load of the plan holds",
        "found 1-999999999",
    ):  # fmt: skip
        assert any(piece in line for line in text), piece
    with pytest.raises(InputError, match="no unit is named"):
        find_units(plan, [" "])


def test_an_order_line_may_be_called_anything() -> None:
    """Names with signs of their own are understood, and what means two things is refused."""
    plan = hand_made_plan()
    names = {"bars": "load 1", "frames": "a, unit 1; b", "plain": "a"}
    orders = tuple(replace(order, name=names[order.name]) for order in plan.job.orders)
    loads = tuple(
        replace(
            load,
            fillings=tuple(replace(f, unit=Unit(names[f.unit.line], f.unit.number)) for f in load.fillings),
        )
        for load in plan.loads
    )
    plan = replace(plan, job=replace(plan.job, orders=orders), loads=loads)
    assert find_units(plan, ["a, unit 1; b: 2"]) == (Unit("a, unit 1; b", 2),)
    assert find_units(plan, ["load 1, unit 2"]) == (Unit("load 1", 2),)
    assert find_units(plan, ["load 1, pocket 4"]) == (Unit("a, unit 1; b", 2),)
    with pytest.raises(InputError, match="names both a load's pockets and an order line's units"):
        find_units(plan, ["load 1: 2"])
