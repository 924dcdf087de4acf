"""Kept sheets: what fits their pockets, and plans that use them before anything is cut."""

from collections import Counter
from dataclasses import replace
from itertools import combinations_with_replacement
from random import Random

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import nesting
from nesting.geometry.region import Region
from nesting.job.job import (
    Blank,
    Costs,
    Job,
    KeptHole,
    KeptPocket,
    KeptSheet,
    Machine,
    MarkSetting,
    OrderLine,
    Stock,
)
from nesting.kept_sheets import kept_sheets
from nesting.packing.choice import pack
from nesting.packing.kept import PLAY_MM, lies_in, reusable, undominated
from nesting.packing.loads import plan_sheets
from nesting.plan import make_plan
from nesting.plan_values import Plan
from tests.planned import planned as random_plan
from tests.strategies import jobs

SHEET = Stock("plain", 320, 220, 3, "plywood")
EFFORT = 1.0


def disc(name: str, diameter: float = 90, height: float = 4, gap: float = 1) -> Blank:
    area = Region.circle(diameter)
    return Blank(name, area, height, gap, 0.25, (0.0,), area, "fine")


CORK, SLATE = disc("cork"), disc("slate", height=8)
FOB = Blank("fob", Region.rectangle(30, 60), 3.8, 1.0, 0.25, (0.0, 90.0), Region.rectangle(30, 60), "fine")


def job(*wanted: tuple[Blank, int], kept: tuple[KeptSheet, ...] = (), stock: Stock = SHEET) -> Job:
    return Job(
        "kept",
        Machine(600, 400, kerf={"plywood": 0.2}),
        (MarkSetting("fine"),),
        (stock,),
        tuple(blank for blank, _ in wanted),
        (),
        tuple(OrderLine(blank.name, blank.name, count) for blank, count in wanted),
        kept=kept,
    )


def planned(what: Job) -> Plan:
    """Plan a job, and make sure that the independent check finds nothing."""
    plan = make_plan(what, effort=EFFORT)
    report = nesting.check_plan(plan)
    assert report.ok, str(report)
    return plan


def cut(*wanted: tuple[Blank, int], stock: Stock = SHEET, name: str = "R1") -> KeptSheet:
    """Cut one sheet for blanks, and keep it."""
    plan = planned(job(*wanted, stock=stock))
    assert len(plan.sheets) == 1
    return replace(kept_sheets(plan)[0], name=name)


@pytest.fixture(scope="module")
def six_discs() -> KeptSheet:
    """Cut a sheet with pockets for six discs of 90 mm."""
    return cut((CORK, 6))


def test_a_sheet_at_hand_is_used_instead_of_cutting_one(six_discs: KeptSheet) -> None:
    """A job that a kept sheet has pockets for cuts nothing, and says so with proof."""
    plan = planned(job((CORK, 13), kept=(six_discs,)))
    assert (plan.sheets, [sheet.name for sheet in plan.kept]) == ((), ["R1"])
    assert (len(plan.loads), plan.bound, plan.proven) == (3, 0, True)
    assert plan.job.kept == (six_discs,)
    assert plan.machine_seconds == sum(load.mark_path.seconds for load in plan.loads)


def test_what_no_kept_sheet_takes_is_cut_and_shares_the_loads(six_discs: KeptSheet) -> None:
    """Only blanks without a kept pocket are cut for; the new sheet helps out where that saves loads."""
    plan = planned(job((CORK, 12), (FOB, 8), kept=(six_discs,)))
    assert (len(plan.sheets), plan.bound, plan.proven) == (1, 1, True)
    assert plan.sheets[0].name == "A"
    assert "fob" in {pocket.blank for pocket in plan.sheets[0].pockets}
    assert len(plan.loads) <= 3


def test_the_plan_keeps_only_the_sheets_that_it_uses(six_discs: KeptSheet) -> None:
    """Of two equal sheets at hand one is fetched, and the other is not in the plan."""
    plan = planned(job((CORK, 12), kept=(six_discs, replace(six_discs, name="R2"))))
    assert len(plan.kept) == len(plan.job.kept) == 1


def test_blanks_of_two_heights_use_the_same_pockets_in_turn(six_discs: KeptSheet) -> None:
    """One sheet is filled in two ways, each in loads of its own, and is named twice but fetched once."""
    plan = planned(job((CORK, 6), (SLATE, 6), kept=(six_discs,)))
    assert not plan.sheets
    assert {sheet.stock for sheet in plan.kept} == {"R1"}
    assert len({sheet.name for sheet in plan.kept}) == len(plan.kept) == 2
    assert sorted(len(load.fillings) for load in plan.loads) == [6, 6]


def test_every_unit_gets_a_kept_pocket_of_its_own_before_new_ones(six_discs: KeptSheet) -> None:
    """With sheet_use "once" kept pockets are filled once, and only the rest is cut for."""
    plan = planned(replace(job((CORK, 8), kept=(six_discs,)), sheet_use="once"))
    assert [len(sheet.pockets) for sheet in plan.sheets] == [2]
    assert [len(sheet.pockets) for sheet in plan.kept] == [6]


def test_a_kept_sheet_costs_nothing(six_discs: KeptSheet) -> None:
    """With costs of sheets and cutting, only loads are paid for on a kept sheet."""
    costs = Costs(sheet=20.0, cutting_minute=1.0, load=2.0)
    plan = planned(replace(job((CORK, 12), kept=(six_discs,)), costs=costs))
    assert plan.cost is not None
    assert (plan.cost.total, plan.cost.loading, plan.cost.bound, plan.cost.proven) == (4.0, 4.0, 4.0, True)


def test_a_new_sheet_is_cut_where_that_is_cheaper_than_loads(six_discs: KeptSheet) -> None:
    """Dear loads make a second sheet pay, and the limit on the cost stays below it."""
    lone = replace(six_discs, pockets=six_discs.pockets[:1])
    costs = Costs(sheet=1.0, load=10.0)
    plan = planned(replace(job((CORK, 12), kept=(lone,)), costs=costs))
    assert plan.cost is not None and len(plan.sheets) == 1
    assert plan.cost.bound <= plan.cost.total == pytest.approx(21.0)


def test_limits_hold_however_a_sheet_is_filled(six_discs: KeptSheet) -> None:
    """The number of loads claimed to be the fewest is no more than what filling pockets in turn needs."""
    for corks, slates in ((6, 6), (12, 1), (3, 9), (1, 1)):
        found = plan_sheets(job((CORK, corks), (SLATE, slates), kept=(six_discs,)), pack=pack, effort=EFFORT)
        needed = -(-corks // 6) + -(-slates // 6)
        assert found.loads_bound <= needed == len(found.loads)
        assert found.bound == 0


@pytest.mark.parametrize(
    ("diameter", "fits"), [(90, True), (90.15, True), (89.85, True), (90.6, False), (89.7, False)]
)
def test_a_pocket_fits_what_has_the_right_play_in_it(diameter: float, fits: bool) -> None:
    """A hole may be 0.1 mm all round off the one the blank would get, neither tighter nor wider."""
    found = lies_in(Region.circle(90.5), 0.0, disc("other", diameter), 3.0)
    assert (found is not None) is fits


def test_no_blank_is_put_where_it_has_less_room_than_it_needs() -> None:
    """Without clearance a pocket must be as large as the blank, however near it comes."""
    tight = replace(disc("tight", 90.1), clearance=0.0)
    assert lies_in(Region.circle(90.0), 0.0, tight, 3.0) is None
    assert lies_in(Region.circle(90.1 + PLAY_MM), 0.0, tight, 3.0) is not None


def test_a_blank_is_turned_into_a_pocket_only_as_it_may_be() -> None:
    """A fob drawn lying fits a standing pocket at 90 degrees, if it may be turned so."""
    hole = Region.rectangle(30.5, 60.5, radius=0.25).moved(-0.25, -0.25)
    lying = replace(FOB, footprint=Region.rectangle(60, 30), turns=(0.0, 90.0))
    assert lies_in(hole, 0.0, lying, 3.0) == (30.0, 0.0, 90.0)
    assert lies_in(hole, 0.0, replace(lying, turns=(0.0,)), 3.0) is None
    assert lies_in(hole, 90.0, lying, 3.0) == (-60.0, 0.0, 0.0)


def test_gaps_hold_between_blanks_in_kept_pockets(six_discs: KeptSheet) -> None:
    """Blanks that need more room than the pockets stand apart lie only in some of them, never nearer."""
    wide = disc("wide", gap=30)
    (found,) = reusable(job((wide, 6), kept=(six_discs,)), {"wide": 6})
    assert 0 < found.ways[0].pockets["wide"] < 6
    assert found.most == Counter(wide=6)
    plan = planned(job((wide, 6), kept=(six_discs,)))
    assert not plan.sheets


def test_a_sheet_larger_than_the_bed_stays_on_the_rack(six_discs: KeptSheet) -> None:
    """What does not fit the machine is not planned with."""
    small = replace(job((CORK, 6), kept=(six_discs,)), machine=Machine(300, 400, kerf={"plywood": 0.2}))
    assert reusable(small, {"cork": 6}) == []


def test_a_wider_kerf_makes_kept_pockets_wider() -> None:
    """The measured kerf changes the holes that are kept by half of its difference on every side."""
    plan = planned(job((CORK, 6)))
    (sheet,) = kept_sheets(plan, kerf=0.3)
    planned_for = plan.sheets[0].pockets[0].outline.bounds
    there = sheet.pockets[0].outline.bounds
    assert there[2] - there[0] == pytest.approx(planned_for[2] - planned_for[0] + 0.1)
    assert sheet.holes[0].clearance == pytest.approx(0.3)
    assert sheet.kerf == 0.3
    assert sheet.used == len(plan.loads)


def test_faults_on_kept_sheets_are_named(six_discs: KeptSheet) -> None:
    """The check finds a pocket that is not there, one that is too tight or too wide, and a path to cut."""
    plan = planned(job((CORK, 6), kept=(six_discs,)))
    (sheet,) = plan.kept
    first, *others = sheet.pockets

    def kinds(changed: Plan) -> set[str]:
        return set(nesting.check_plan(changed).kinds)

    moved = replace(first, outline=first.outline.moved(1, 0))
    elsewhere = replace(sheet, pockets=(moved, *others))
    assert "pocket" in kinds(replace(plan, kept=(elsewhere,)))
    assert "pocket" in kinds(
        replace(plan, kept=(replace(sheet, pockets=(replace(first, number=99), *others)),))
    )
    off = replace(sheet, pockets=(replace(first, x=first.x + 0.5), *others))
    assert "clearance" in kinds(replace(plan, kept=(off,)))
    for diameter in (90.4, 89.4):
        other = replace(plan.job, blanks=(disc("cork", diameter),))
        assert "clearance" in kinds(replace(plan, job=other))
    assert "sheet" in kinds(replace(plan, job=replace(plan.job, kept=())))
    cut_again = replace(sheet, cut_path=plan.loads[0].mark_path, outline_path=first.outline.contours)
    assert "path" in kinds(replace(plan, kept=(cut_again,)))


@settings(max_examples=5, deadline=None, suppress_health_check=list(HealthCheck))
@given(jobs(), st.sampled_from((0.0, 0.05, -0.05)), st.sampled_from((None, 0.1, 0.3)))
def test_a_job_is_planned_again_on_its_own_sheets(what: Job, more: float, kerf: float | None) -> None:
    """What was cut for a job takes it again, nothing being cut; with other play and kerf all is sound too."""
    first = random_plan(what)
    kept = tuple(replace(sheet, name=f"R{sheet.name}") for sheet in kept_sheets(first, kerf=kerf))
    blanks = tuple(replace(blank, clearance=max(0.0, blank.clearance + more)) for blank in what.blanks)
    again = random_plan(replace(what, kept=kept, blanks=blanks))
    assert nesting.check_plan(again).ok, str(nesting.check_plan(again))
    if more or kerf is not None:
        return
    if not first.unplaced:
        assert (again.sheets, again.unplaced) == ((), ())
    assert sum(n for _, n in again.unplaced) <= sum(n for _, n in first.unplaced)


def _grid(name: str, discs: int, tags: int) -> KeptSheet:
    """Make a sheet by hand with so many pockets for discs and for tags, in a row each."""
    disc, tag = Region.circle(20.5), Region.rectangle(10.5, 20.5, radius=0.25).moved(-0.25, -0.25)
    places = [("disc", disc, 15 + 25 * k, 15) for k in range(discs)]
    places += [("tag", tag, 5 + 25 * k, 40) for k in range(tags)]
    pockets = tuple(
        KeptPocket(number, blank, x, y, 0.0, hole.moved(x, y))
        for number, (blank, hole, x, y) in enumerate(places, 1)
    )
    return KeptSheet(name, SHEET, (KeptHole("disc", disc, 0.25), KeptHole("tag", tag, 0.25)), pockets)


def _fewest(sheets: list[tuple[int, int]], discs: int, tags: int) -> int:
    """Try every number of loads of every sheet."""
    for loads in range(discs + tags + 1):
        for chosen in combinations_with_replacement(sheets, loads):
            if sum(a for a, _ in chosen) >= discs and sum(b for _, b in chosen) >= tags:
                return loads
    raise AssertionError("the sheets do not have both kinds of pocket")


@pytest.mark.parametrize("seed", range(10))
def test_loads_on_kept_sheets_are_as_few_as_by_trying_everything(seed: int) -> None:
    """On random sheets at hand the loads are those of brute force, and the limit says that they are."""
    draw = Random(seed)
    sheets = [(draw.randint(0, 5), draw.randint(0, 5)) for _ in range(draw.randint(1, 4))] + [(1, 1)]
    discs, tags = draw.randint(1, 9), draw.randint(1, 9)
    tag = replace(FOB, name="tag", footprint=Region.rectangle(10, 20), turns=(0.0,))
    kept = tuple(_grid(f"R{k}", *counts) for k, counts in enumerate(sheets) if any(counts))
    what = job((disc("disc", 20), discs), (tag, tags), kept=kept)
    found = plan_sheets(what, pack=pack, effort=EFFORT)
    assert found.loads_bound == len(found.loads) == _fewest(sheets, discs, tags)
    assert not found.unplaced
    assert all(sheet.kept is not None for sheet in found.sheets)


def test_only_ways_that_may_help_are_looked_at() -> None:
    """Of many sheets at hand those that hold no more than another are left out, but not from the limits."""
    tag = replace(FOB, name="tag", footprint=Region.rectangle(10, 20), turns=(0.0,))
    kept = tuple(_grid(f"R{k}", *counts) for k, counts in enumerate([(1, 1), (3, 2), (2, 3), (3, 2), (4, 0)]))
    found = reusable(job((disc("disc", 20), 9), (tag, 9), kept=kept), {"disc": 9, "tag": 9})
    left = undominated(found, ["disc", "tag"])
    assert [len(reused.ways) for reused in left] == [0, 1, 1, 0, 1]
    assert [reused.most for reused in left] == [reused.most for reused in found]
