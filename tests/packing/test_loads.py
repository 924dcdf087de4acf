"""Sheets, loads and units."""

import math
import re
from collections import Counter
from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.fixture.pocket import make_pockets
from nesting.fixture.web import thin_webs
from nesting.geometry.region import Region
from nesting.job.job import Blank, Costs, Job, Machine, MarkSetting, OrderLine, Refocus, Stock
from nesting.packing.choice import pack
from nesting.packing.fitting import Fitted
from nesting.packing.load_groups import Group, in_focus_together
from nesting.packing.loads import plan_sheets
from nesting.packing.master import Wanted, plain
from nesting.packing.sheet_plan import AssignedLoad, SheetPlan
from nesting.packing.working_order import assign_units
from nesting.plan import make_plan
from nesting.plan_values import Pocket

SHEET = Stock("plain", 660, 820, 6, "plywood")
EFFORT = 2.0


def blank(name: str, footprint: Region, height: float = 5.0, turns: tuple[float, ...] = (0.0,)) -> Blank:
    return Blank(name, footprint, height, 0.0, 0.25, turns, footprint, "setting")


CUP = blank("cup", Region.rectangle(90, 200), 75)
COASTER = blank("coaster", Region.circle(95), 4)
FOB = blank("fob", Region.rectangle(30, 60, radius=5), 3.8)


def line(name: str, kind: Blank, quantity: int, due: date | None = None, priority: int = 5) -> OrderLine:
    return OrderLine(name, kind.name, quantity, due=due, priority=priority)


def job(
    lines: list[OrderLine], stock: list[Stock], kinds: list[Blank] | None = None, once: bool = False
) -> Job:
    return Job(
        "job",
        Machine(900, 900, kerf={"plywood": 0.2}),
        (MarkSetting("setting"),),
        tuple(stock),
        tuple(kinds or (CUP, COASTER, FOB)),
        (),
        tuple(lines),
        sheet_use="once" if once else "reload",
    )


def planned(
    what: Job, effort: float = EFFORT
) -> tuple[SheetPlan, list[tuple[Pocket, ...]], tuple[AssignedLoad, ...]]:
    """Plan a job down to the units, and make sure that the plan is sound."""
    plan = plan_sheets(what, pack=pack, effort=effort)
    blanks = {kind.name: kind for kind in what.blanks}
    pockets = [make_pockets(blanks, placed.placements, 0.2) for placed in plan.sheets]
    assigned = assign_units(what, plan, pockets)
    assert_sound(what, plan, pockets, assigned)
    return plan, pockets, assigned


def assert_sound(
    what: Job, plan: SheetPlan, pockets: list[tuple[Pocket, ...]], assigned: tuple[AssignedLoad, ...]
) -> None:
    """Every unit lies once, in a pocket for it, at its height; webs hold; stock and bounds are kept."""
    blanks = {kind.name: kind for kind in what.blanks}
    lines = {order.name: order for order in what.orders}
    units = Counter(unit for load in assigned for _, unit in load.units)
    assert max(units.values(), default=1) == 1
    left = dict(plan.unplaced)
    for order in what.orders:
        numbers = sorted(unit.number for unit in units if unit.line == order.name)
        assert numbers == list(range(1, order.quantity - left.get(order.name, 0) + 1))
    for load in assigned:
        kinds = {pocket.number: pocket.blank for pocket in pockets[load.sheet]}
        assert load.units
        assert len({number for number, _ in load.units}) == len(load.units)
        for number, unit in load.units:
            assert kinds[number] == lines[unit.line].blank
            assert abs(blanks[kinds[number]].height - load.focus_height) <= 0.5
    assert {load.sheet for load in plan.loads} == set(range(len(plan.sheets)))
    used = Counter(placed.stock for placed in plan.sheets)
    assert all(stock.quantity is None or count <= stock.quantity for stock, count in used.items())
    for placed, holes in zip(plan.sheets, pockets, strict=True):
        assert thin_webs(holes, what.web, placed.stock.region) == []
    assert plan.bound <= len(plan.sheets)
    assert what.sheet_use == "once" or plan.loads_bound <= len(plan.loads)


@pytest.mark.parametrize(("cups", "loads"), [(1, 1), (28, 1), (29, 2), (280, 10), (281, 11)])
def test_a_sheet_is_cut_once_and_loaded_again(cups: int, loads: int) -> None:
    """On a sheet that holds 28 cups, 280 take one sheet and ten loads, not ten sheets."""
    plan, _, _ = planned(job([line("mugs", CUP, cups)], [SHEET]))
    assert (len(plan.sheets), len(plan.loads), plan.loads_bound) == (1, loads, loads)
    assert (plan.bound, plan.proven, plan.unplaced) == (1, True, ())


def test_heights_are_marked_apart() -> None:
    """Blanks of different height share a sheet, not a load; half a millimetre apart they do."""
    plan, _, _ = planned(job([line("a", CUP, 2), line("b", COASTER, 2), line("c", FOB, 2)], [SHEET]))
    assert len(plan.sheets) == 1
    assert sorted(load.focus_height for load in plan.loads) == pytest.approx([3.9, 75])


def test_rooms_go_where_they_save_loads() -> None:
    """On a small sheet the fobs, of which there are many, get the pockets."""
    stock = Stock("small", 205, 110, 6, "plywood")
    plan, _, _ = planned(job([line("many", FOB, 40), line("few", COASTER, 4)], [stock]))
    assert len(plan.sheets) == 1
    # beside a coaster there is room for three fobs: 95 + 3 x 30, three gaps of 3.5, two margins of 3.25
    assert plan.sheets[0].pockets == {"fob": 3, "coaster": 1}
    assert len(plan.loads) == math.ceil(40 / 3)


def test_urgent_units_go_first() -> None:
    """Lines are loaded by due date, then priority, and lie next to each other."""
    lines = [
        line("late", CUP, 20, date(2030, 5, 2)),
        line("whenever", CUP, 10),
        line("urgent", CUP, 20, date(2030, 5, 1), priority=1),
        line("soon", CUP, 10, date(2030, 5, 1)),
    ]
    _, _, assigned = planned(job(lines, [SHEET]))
    order = [unit.line for load in assigned for _, unit in load.units]
    assert order == ["urgent"] * 20 + ["soon"] * 10 + ["late"] * 20 + ["whenever"] * 10


def test_every_unit_its_own_pocket() -> None:
    """Used once, no pocket is ever filled twice: 60 cups take three sheets, as the bound says."""
    plan, _, assigned = planned(job([line("mugs", CUP, 60)], [SHEET], once=True))
    filled = Counter((load.sheet, number) for load in assigned for number, _ in load.units)
    assert set(filled.values()) == {1}
    assert (len(plan.sheets), plan.bound, plan.proven) == (3, 3, True)


def test_scarce_stock_leaves_the_last_in_turn() -> None:
    """When sheets run out, the order line that is due last is left short, and nothing is proven."""
    stock = Stock("plain", 660, 820, 6, "plywood", quantity=2)
    lines = [line("last", CUP, 30, date(2030, 2, 1)), line("first", CUP, 40, date(2030, 1, 1))]
    plan, _, _ = planned(job(lines, [stock], once=True))
    assert plan.unplaced == (("last", 14),)
    assert not plan.proven


@pytest.mark.parametrize(("wides", "fobs", "short"), [(1, 50, ("a", 1)), (50, 1, ("b", 1))])
def test_scarce_stock_goes_to_the_most_units(wides: int, fobs: int, short: tuple[str, int]) -> None:
    """Of two kinds that share no sheet, of which there is one, that with more units gets it."""
    wide = blank("wide", Region.rectangle(100, 400))
    stock = Stock("narrow", 107, 407, 6, "plywood", quantity=1)
    plan, _, _ = planned(
        job([line("a", wide, wides), line("b", FOB, fobs)], [stock], [wide, FOB]), effort=0.5
    )
    assert plan.unplaced == (short,)
    assert (len(plan.sheets), plan.proven) == (1, False)


def test_what_fits_nowhere_is_left_out() -> None:
    """A blank larger than every sheet is reported, whole lines of it, and the rest is planned."""
    door = blank("door", Region.rectangle(900, 900))
    plan, _, _ = planned(job([line("doors", door, 2), line("mugs", CUP, 3)], [SHEET], [door, CUP]))
    assert plan.unplaced == (("doors", 2),)
    assert (len(plan.sheets), len(plan.loads), plan.proven) == (1, 1, False)
    only, _, _ = planned(job([line("doors", door, 2)], [SHEET], [door]))
    assert (only.sheets, only.loads, only.unplaced) == ((), (), (("doors", 2),))


def test_nothing_ordered() -> None:
    """An empty order list takes no sheet."""
    plan, _, _ = planned(job([], [SHEET]))
    assert (plan.sheets, plan.loads, plan.proven) == ((), (), True)


def test_small_stock_that_does_is_taken() -> None:
    """Where an offcut needs no more loads than a whole sheet, the offcut is used; otherwise it is not."""
    offcut = Stock("offcut", 250, 250, 6, "plywood", quantity=1)
    few, _, _ = planned(job([line("a", FOB, 5)], [SHEET, offcut]))
    many, _, _ = planned(job([line("a", FOB, 100)], [SHEET, offcut]))
    assert [placed.stock.name for placed in (*few.sheets, *many.sheets)] == ["offcut", "plain"]


def test_costs_come_before_loads() -> None:
    """With costs stated the cheap sheet is cut, though a dear one would save loads."""
    cheap = Stock("cheap", 250, 250, 6, "plywood", cost=1.0)
    dear = Stock("dear", 660, 820, 6, "plywood", cost=9.0)
    plan, _, _ = planned(job([line("a", FOB, 100)], [dear, cheap]))
    assert [placed.stock.name for placed in plan.sheets] == ["cheap"]


def test_dear_minutes_make_one_pocket_do() -> None:
    """Where minutes cost much and loads nothing, one pocket is cut and loaded for every unit."""
    costs = Costs(load=0.0, machine_minute=5.0)
    plan = make_plan(replace(job([line("a", FOB, 6)], [SHEET]), costs=costs), effort=0.5)
    assert [len(sheet.pockets) for sheet in plan.sheets] == [1]
    assert len(plan.loads) == 6


def test_cost_is_the_sum_of_what_is_stated() -> None:
    """Stock, setting up, minutes and loads are paid for as they are, and no limit is above their sum."""
    stock = replace(SHEET, cost=9.0)
    costs = Costs(sheet=2.0, cutting_minute=1.0, load=0.5, machine_minute=3.0)
    plan = make_plan(replace(job([line("a", CUP, 40)], [stock]), costs=costs), effort=0.5)
    cuts, minutes = plan.sheets[0].cut_path.seconds / 60, plan.machine_seconds / 60
    assert plan.cost is not None
    assert plan.cost.total == pytest.approx(9 + 2 + 0.5 * len(plan.loads) + cuts + 3 * minutes)
    assert 9 + 2 + 0.5 * 2 < plan.cost.bound <= plan.cost.total


def test_stock_that_costs_is_counted_without_further_costs() -> None:
    """Where only stock has costs, that is what the plan costs, and the least of it is proven."""
    plan = make_plan(job([line("a", FOB, 5)], [replace(SHEET, cost=9.0)]), effort=0.5)
    assert plan.cost is not None
    assert (plan.cost.total, plan.cost.bound, plan.cost.proven) == (9.0, 9.0, True)


def test_every_unit_its_own_pocket_at_the_least_cost() -> None:
    """Used once, sheets are chosen by their own cost and what setting up and loading them cost."""
    small, large = Stock("small", 250, 250, 6, "plywood", cost=1.0), replace(SHEET, cost=4.0)
    what = job([line("a", FOB, 40)], [large, small], once=True)
    chosen = [
        {sheet.stock.name for sheet in planned(replace(what, costs=costs), effort=0.5)[0].sheets}
        for costs in (Costs(), Costs(sheet=20.0))
    ]
    assert chosen == [{"small"}, {"plain"}]


def test_kinds_that_share_no_sheet() -> None:
    """Two kinds that fill a sheet each are cut on two, and each sheet gets pockets to its own demand."""
    stock = Stock("narrow", 107, 407, 6, "plywood")
    wide = blank("wide", Region.rectangle(100, 400))
    plan, _, _ = planned(job([line("a", wide, 7), line("b", FOB, 50)], [stock], [wide, FOB]))
    assert (len(plan.sheets), plan.bound, plan.proven) == (2, 2, True)
    fobs = max(placed.pockets["fob"] for placed in plan.sheets)
    assert len(plan.loads) == 7 + math.ceil(50 / fobs)
    assert fobs >= 15


def test_same_effort_same_plan() -> None:
    """The same job, seed and effort give the same plan."""
    what = job([line("a", CUP, 30), line("b", COASTER, 40), line("c", FOB, 90)], [SHEET])
    first, second = (plan_sheets(what, pack=pack, effort=1.0, seed=4) for _ in range(2))
    assert first == second


@settings(max_examples=8, deadline=None)
@given(
    st.lists(st.integers(0, 60), min_size=3, max_size=3),
    st.sampled_from([(300, 250), (450, 320), (660, 820)]),
    st.booleans(),
    st.sampled_from([None, 1, 2]),
)
def test_random_jobs_are_sound(
    counts: list[int], size: tuple[int, int], once: bool, pieces: int | None
) -> None:
    """Whatever is ordered on whatever stock, the plan keeps every rule; see `assert_sound`."""
    lines = [
        line(kind.name, kind, count) for kind, count in zip((CUP, COASTER, FOB), counts, strict=True) if count
    ]
    stock = Stock("stock", *size, 6, "plywood", quantity=pieces)
    planned(job(lines, [stock], once=once), effort=0.5)


def test_what_is_in_focus_together_does_not_chain() -> None:
    """Heights 0.4 mm apart from each other do not make one load of all of them, but two that overlap."""
    kinds = [blank(str(k), Region.circle(10), height=3 + 0.4 * k) for k in range(4)]
    found = in_focus_together(kinds, Machine(900, 900))
    assert [names for _, names in found] == [("0", "1", "2"), ("1", "2", "3")]
    assert [height for height, _ in found] == pytest.approx([3.4, 3.8])


def test_what_keeps_loads_from_their_limit_is_told() -> None:
    """Where the limit on loads, an area, is not reached, the pockets that found no place are named."""
    stock = Stock("small", 450, 320, 6, "plywood")
    plan, _, _ = planned(job([line("a", CUP, 12), line("b", COASTER, 26)], [stock]), effort=0.5)
    assert plan.loads_bound < len(plan.loads)
    assert re.search(r"\d loads would take pockets for \d cup, \d+ coaster; no place", plan.loads_reason)


def refocusing(what: Job, seconds: float, apart: float) -> Job:
    return replace(what, machine=replace(what.machine, refocus=Refocus(seconds, apart)))


def test_a_machine_that_refocuses_marks_all_heights_in_one_load() -> None:
    """Within its range the machine takes blanks of different heights in one load, and not beyond."""
    what = job([line("a", CUP, 2), line("b", COASTER, 2), line("c", FOB, 2)], [SHEET])
    together, apart = (
        plan_sheets(refocusing(what, 3.0, reach), pack=pack, effort=EFFORT) for reach in (75, 20)
    )
    assert [load.heights for load in together.loads] == [
        (("coaster", 3.9), ("fob", 3.9), ("cup", 75)),
    ]
    assert len(apart.loads) == 2


def test_loads_are_shared_only_where_refocusing_is_cheaper() -> None:
    """With costs the machine refocuses if that costs less than another load."""
    what = job([line("a", CUP, 1), line("b", COASTER, 1)], [SHEET])
    loads = [
        len(plan_sheets(replace(refocusing(what, 60.0, 75), costs=costs), pack=pack, effort=0.5).loads)
        for costs in (Costs(load=2.0, machine_minute=1.0), Costs(load=0.5, machine_minute=1.0))
    ]
    assert loads == [1, 2]


def test_no_time_left_is_enough_for_a_plan() -> None:
    """Once one of each blank is placed there is a plan, even if no time is left to choose loads."""
    layouts = [Fitted(0, (2, 0), ()), Fitted(0, (0, 3), ())]
    groups = (Group(((4.0, ("a", "b")),)),)
    chosen = plain(layouts, Wanted(("a", "b"), {("a", ()): 5, ("b", ()): 3}, groups))
    assert chosen is not None and [often for _, often in chosen.layouts] == [(3,), (1,)]
    assert plain(layouts[:1], Wanted(("a", "b"), {("b", ()): 1}, groups)) is None


def test_pockets_for_several_are_found_however_late_it_is() -> None:
    """With next to no effort blanks still get more pockets than the one each that come first."""
    what = job([line("a", CUP, 60), line("b", COASTER, 60), line("c", FOB, 60)], [SHEET])
    plan, _, _ = planned(what, effort=1e-4)
    assert len(plan.loads) <= 60 // 2


def test_who_cancels_waits_for_no_further_try() -> None:
    """Cancelled once there is a plan, each blank has the one pocket that it has at first."""
    told: list[str] = []
    what = job([line("a", CUP, 6), line("b", COASTER, 6)], [SHEET])
    plan = plan_sheets(what, pack=pack, effort=EFFORT, progress=told.append, cancelled=lambda: bool(told))
    assert [placed.pockets for placed in plan.sheets] == [{"cup": 1, "coaster": 1}]
    assert plan.unplaced == ()
