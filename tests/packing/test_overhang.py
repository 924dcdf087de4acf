"""Silhouettes that reach beyond a sheet's edge, where the job allows it; their pockets keep the margin."""

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting import check_layout, check_plan, make_plan, pack
from nesting.geometry.region import Region
from nesting.job.load import job_from
from nesting.packing.bounds import spent_bound, without_edges
from nesting.packing.demand import items_of
from nesting.packing.problem import Item, Problem, Sheet
from nesting.plan_file import plan_from_json, plan_to_json
from nesting.plan_values import Plan
from tests.faults import moved, with_pocket
from tests.job.test_load import blank, refused, sheet, small
from tests.planned import planned


def cups(overhang: float | None, height: float = 210, **changes: Any) -> dict[str, Any]:
    """Six cups, 28 mm of which lie in the sheet while 80 mm are seen, on sheets of 260 mm."""
    cup = {
        "name": "cup",
        "body": {"shape": "tapered", "small_diameter": 70, "large_diameter": 80, "length": 110},
        "mark_area": {"shape": "rectangle", "width": 50, "height": 20, "x": 30, "y": -10},
        "gap": 2,
        "setting": "wood",
        "turns": [0, 180],
        **changes,
    }
    outline = {"shape": "rectangle", "width": 260, "height": height}
    document = small(blanks=[cup], stock=[sheet(outline=outline, margin=5)], sheet_use="once")
    document["machine"]["bed"] = {"width": 600, "height": 400}
    document["orders"] = [{"blank": "cup", "quantity": 6}]
    return document if overhang is None else {**document, "overhang": overhang}


def reach(plan: Plan) -> tuple[float, float]:
    """How far silhouettes reach beyond the edge, and how near to it pockets come."""
    stock = plan.job.stock[0]
    blanks = {blank.name: blank for blank in plan.job.blanks}
    pockets = [pocket for sheet in plan.sheets for pocket in sheet.pockets]
    silhouettes = [blanks[p.blank].footprint.moved(p.x, p.y, p.turn).bounds for p in pockets]
    holes = [pocket.outline.bounds for pocket in pockets]

    def beyond(box: tuple[float, float, float, float]) -> float:
        return max(-box[0], -box[1], box[2] - stock.width, box[3] - stock.height)

    return max(map(beyond, silhouettes)), -max(map(beyond, holes))


def test_three_rows_lie_where_only_two_fit_within_the_margin() -> None:
    """With 30 mm of overhang a sheet 210 mm deep takes three rows of cups 80 mm wide; without, two."""
    within, beyond = (make_plan(job_from(cups(over)), effort=4) for over in (None, 30))
    assert [len(sheet.pockets) for sheet in within.sheets] == [4, 2]
    assert [len(sheet.pockets) for sheet in beyond.sheets] == [6]
    assert reach(within)[0] <= -5 + 1e-6
    over, near = reach(beyond)
    assert 0 < over <= 30 + 1e-6
    assert near >= 5 - 1e-6
    assert any("mm beyond its front edge" in said for said in beyond.warnings)
    assert not any("beyond its" in said for said in within.warnings)
    assert check_plan(beyond).ok, str(check_plan(beyond))
    assert plan_from_json(plan_to_json(beyond)) == beyond


@settings(max_examples=8, deadline=None)
@given(
    over=st.sampled_from([0.0, 3.0, 12.0, 40.0]),
    height=st.integers(150, 260),
    gap=st.sampled_from([0.0, 2.0, 8.0]),
    turns=st.sampled_from([(0, 180), (0, 90), (30, 120)]),
    shim=st.sampled_from([0, "level"]),
)
def test_seats_keep_the_margin_and_silhouettes_the_overhang(
    over: float, height: int, gap: float, turns: tuple[int, ...], shim: Any
) -> None:
    """Whatever the overhang, sheet, gap and turns, plans are sound and nothing reaches too far."""
    document = cups(over, height, gap=gap, turns=list(turns))
    document["blanks"][0]["body"]["shim"] = shim
    flat = blank(name="flat", mark_area={"shape": "footprint", "inset": 2})
    document["blanks"] = [*document["blanks"], flat]
    document["orders"] = [*document["orders"], {"blank": "flat", "quantity": 3}]
    plan = planned(job_from(document))
    assert check_plan(plan).ok, str(check_plan(plan))
    far, near = reach(plan)
    assert far <= over + 1e-3
    assert near >= 4.7 - 1e-3  # of a flat blank the footprint keeps the margin of 5 mm


@st.composite
def overhanging(draw: st.DrawFn) -> Problem:
    """Rectangles and discs, of each of which an inner rectangle keeps the margin, or all."""
    items = []
    for k in range(draw(st.integers(1, 2))):
        wide, high = draw(st.integers(20, 80)), draw(st.integers(20, 60))
        disc = Region.circle(wide).moved(wide / 2, wide / 2)
        whole = draw(st.sampled_from([Region.rectangle(wide, high), disc]))
        x0, y0, x1, y1 = whole.bounds
        inner = Region.rectangle((x1 - x0) * 0.6, (y1 - y0) / 2).moved(0, (y1 - y0) / 4)
        edge = draw(st.sampled_from([inner, None]))
        turns = draw(st.sampled_from([(0.0,), (0.0, 90.0), (20.0, 200.0)]))
        items.append(Item(f"item {k}", whole, draw(st.integers(1, 5)), turns, gap=2.0, edge=edge))
    margin = draw(st.sampled_from([0.0, 4.0]))
    return Problem(tuple(items), (Sheet(draw(st.integers(90, 160)), 110, 2, margin),))


@settings(max_examples=25, deadline=None)
@given(overhanging())
def test_layouts_keep_what_is_to_be_kept(problem: Problem) -> None:
    """What keeps the margin keeps it, footprints keep their gap, and no layout passes the bound."""
    layout = pack(problem.items, problem.sheets, effort=0.05)
    report = check_layout(layout)
    assert report.ok, str(report)


def test_the_bound_counts_what_reaches_beyond_the_edge() -> None:
    """Two discs of 50 mm on a sheet of 60 x 30 mm are one sheet at the least, though their area is larger."""
    disc = Item("disc", Region.circle(50), 2, (0.0,), edge=Region.rectangle(6, 6).moved(-3, -3))
    problem = Problem((disc,), (Sheet(60, 30),))
    assert spent_bound(problem).value == 1
    assert spent_bound(replace(problem, items=(replace(disc, edge=None),))).value > 1
    (larger,) = without_edges(problem).sheets
    assert (larger.width, larger.height) == (104, 74)
    layout = pack(problem.items, problem.sheets, effort=0.5)
    assert len(layout.sheets) == 1
    assert check_layout(layout).ok


def test_faults_at_the_edge_are_named() -> None:
    """The check finds a silhouette that reaches too far, and a pocket in the margin."""
    plan = make_plan(job_from(cups(30)), effort=1)
    low = min(range(len(plan.sheets[0].pockets)), key=lambda k: plan.sheets[0].pockets[k].y)
    assert check_plan(plan).ok
    for by in (-8.0, -60.0):
        shifted = with_pocket(plan, lambda pocket, by=by: moved(pocket, 0, by), low)  # type: ignore[misc]
        assert "margin" in check_plan(shifted).kinds
    strict = replace(plan, job=replace(plan.job, overhang=0.0))
    assert any("beyond the edge; the overhang is 0 mm" in str(v) for v in check_plan(strict).violations)


def test_what_an_overhang_needs_is_said() -> None:
    """Sheets must be rectangles; flat blanks keep the margin with all of their footprint."""
    disc = {"shape": "circle", "diameter": 250, "x": 125, "y": 125}
    document = {**cups(20), "stock": [sheet(outline=disc)]}
    assert "must be rectangles" in refused(document)["stock[0].outline"]
    (item,) = items_of(job_from(small(overhang=20)))
    assert item.edge is None
    with pytest.raises(ValueError, match="only rectangular sheets"):
        Problem((replace(item, edge=item.footprint),), (Sheet(300, None),))
