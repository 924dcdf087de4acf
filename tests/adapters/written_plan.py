"""A small plan put together by hand, for the tests of what is written from plans."""

import json
import math
from dataclasses import replace
from datetime import date
from typing import Any

from nesting.geometry.contour import Contour
from nesting.geometry.drawing import Drawing, Shape
from nesting.geometry.region import Region
from nesting.job.job import (
    Artwork,
    Blank,
    Job,
    KeptPocket,
    KeptSheet,
    Machine,
    MarkSetting,
    OrderLine,
    Stock,
)
from nesting.plan_file import plan_from_json, plan_to_json
from nesting.plan_values import (
    CutSheet,
    Filling,
    Load,
    Marking,
    Part,
    Path,
    Placed,
    Plan,
    Pocket,
    SheetMark,
    Step,
    Unit,
)

RING = Contour.circle(20, 30, 10)
SQUIGGLE = Contour(((2, 2, 0.7), (10, 14, -0.2), (18, 6, 0.0)), closed=False)
SQUARE = Contour.polyline([(22, 4), (28, 4), (28, 16), (22, 16)])


def small_job() -> Job:
    """Two kinds of blank, two artworks, an order with texts and one without artwork."""
    machine = Machine(300, 200, kerf={"plywood": 0.2})
    settings = (MarkSetting("fine", 250, 0.1, 40, 2), MarkSetting("coarse", 400, 0.2))
    keep_out = Region.rectangle(20, 20).moved(275, 175)
    stock = Stock("plywood 300 x 200", 300, 200, 3, "plywood", 4, 5, (keep_out,), cost=4.5)
    coaster = Blank("coaster", Region.circle(60), 4, 2, 0.25, (0.0,), Region.circle(50), "fine", "slate")
    area = Region.rectangle(50, 20).moved(5, 5)
    fob = Blank("fob", Region.rectangle(60, 30, radius=6), 4, 2, 0.25, (0.0, 30.0, 90.0), area, "coarse")
    star = Artwork("star", Drawing(40, 40, (Shape((RING, SQUARE), filled=True, stroked=False),)))
    name = Artwork("name", Drawing(30, 20, (Shape((SQUIGGLE,)),)), fit="size", width=30, turn=90)
    orders = (
        OrderLine("O-1", "coaster", 3, ("star",), {"name": "Ada"}, date(2026, 12, 1), 1),
        OrderLine("O-2", "fob", 3, ("name",), {"name": 'Grace, "H."', "role": "rear\nadmiral"}),
        OrderLine("O-3", "fob", 5),
    )
    return Job("Autumn fair", machine, settings, (stock,), (coaster, fob), (star, name), orders)


def small_plan() -> Plan:
    """One sheet with four pockets and two loads of it; four units are left unplaced."""
    return Plan(
        small_job(), (_sheet(),), _loads(), _markings(), (("O-3", 4),), bound=1, proven=True,
        bound_reason="one sheet is the least that anything can be cut from",
        explanation="lattice: equal discs in rows",
        warnings=("a fob lies at 30 degrees: mind its hole",), seed=7, made_by="nesting-optimiser 0.1.0",
    )  # fmt: skip


def renamed_plan(ending: str) -> Plan:
    """Give everything in the small plan that a user may word another ending."""
    plan = small_plan()
    job = plan.job
    named: list[Any] = [*job.stock, *job.blanks, *job.artworks, *job.orders, *job.settings, *plan.markings]
    words = {job.title, "plywood", "slate", "Ada", *plan.warnings, *(entry.name for entry in named)}
    return plan_from_json(json.dumps(_reworded(json.loads(plan_to_json(plan)), words, ending)))


def _reworded(value: Any, words: set[str], ending: str) -> Any:
    if isinstance(value, dict):
        return {
            _reworded(k, words & {"plywood"}, ending): _reworded(v, words, ending) for k, v in value.items()
        }
    if isinstance(value, list):
        return [_reworded(item, words, ending) for item in value]
    return value + ending if isinstance(value, str) and value in words else value


def _sheet() -> CutSheet:
    places = [("coaster", 45.0, 150.0, 0.0), ("coaster", 125.0, 150.0, 0.0), ("fob", 20.0, 20.0, 30.0),
              ("fob", 150.0, 20.0, 90.0)]  # fmt: skip
    pockets = tuple(_pocket(number, *place) for number, place in enumerate(places, 1))
    steps = (Step(3, 0, start=2), Step(4, 0, backwards=True), Step(2, 0, start=1), Step(1, 0))
    return CutSheet("A", "plywood 300 x 200", pockets, Path(steps, 310.5, 402.25, 760.0, 55.5, 57.25), 0.15)


def _pocket(number: int, blank: str, x: float, y: float, turn: float) -> Pocket:
    hole, beam = _seat(blank, 0.25), _seat(blank, 0.15)
    return Pocket(number, blank, x, y, turn, hole.moved(x, y, turn), (beam.outer.moved(x, y, turn),))


def _seat(blank: str, grown: float) -> Region:
    if blank == "coaster":
        return Region.circle(60 + 2 * grown)
    return Region.rectangle(60 + 2 * grown, 30 + 2 * grown, 6 + grown).moved(-grown, -grown)


def _markings() -> tuple[Marking, ...]:
    ring, square = RING.moved(-30, -10), SQUARE.moved(-25, -10)
    sweeps = tuple((-9.0 + k % 2 * 18, -4.0 + k, 9.0 - k % 2 * 18, -4.0 + k) for k in range(8))
    fill = Part("fill", (ring, square), "evenodd", sweeps)
    return (
        Marking("star on coaster", "coaster", (Placed("star", 1.0, 0.0, -30.0, -10.0, (fill,)),)),
        Marking(
            "name on fob",
            "fob",
            (Placed("name", 1.0, 90.0, 40.0, 5.0, (Part("line", (SQUIGGLE.moved(40, 5, 90),)),)),),
        ),
    )


def _loads() -> tuple[Load, ...]:
    star, name = "star on coaster", "name on fob"
    first = (
        Filling(1, Unit("O-1", 1), star), Filling(2, Unit("O-1", 2), star),
        Filling(3, Unit("O-2", 1), name), Filling(4, Unit("O-2", 2), name),
    )  # fmt: skip
    second = (
        Filling(1, Unit("O-1", 3), star), Filling(3, Unit("O-2", 3), name), Filling(4, Unit("O-3", 1), None),
    )  # fmt: skip
    run = (Step(4, 0), Step(3, 0, backwards=True), Step(2, 0, backwards=True), Step(1, 0))
    return (
        Load(1, "A", 4.0, first, Path(run, 200.0, 260.5, 330.0, 12.5, 13.0)),
        Load(2, "A", 4.0, second, Path(run[1:2] + run[3:], 150.0, 150.0, 180.0, 7.5, 7.5)),
    )


def with_sheet_marks() -> Plan:
    """Give the small plan's sheet a ring at a corner and an arrow in its first pocket."""
    plan = small_plan()
    shaft = Contour.polyline([(45, 140), (45, 160)], closed=False)
    marks = (SheetMark("fiducial", 0, (Contour.circle(4, 6, 6),)), SheetMark("arrow", 1, (shaft,)))
    return replace(plan, sheets=(replace(plan.sheets[0], marks=marks),))


def from_the_rack() -> Plan:
    """Give the small plan a kept sheet instead of one to cut; a fifth pocket of it stays empty."""
    plan = small_plan()
    sheet, pockets = plan.sheets[0], (*plan.sheets[0].pockets, _pocket(5, "coaster", 225.0, 100.0, 0.0))
    kept = KeptSheet(
        "R7", plan.job.stock[0], (),
        tuple(KeptPocket(p.number, p.blank, p.x, p.y, p.turn, p.outline) for p in pockets),
    )  # fmt: skip
    again = replace(sheet, stock="R7", cut_path=Path((), 0.0, 0.0, 0.0, 0.0, 0.0))
    return replace(plan, sheets=(), kept=(again,), job=replace(plan.job, kept=(kept,)), bound=0)


def with_sweeps(count: int) -> Plan:
    """Give the small plan's fill so many sweeps."""
    plan = small_plan()
    star, name = plan.markings
    sweeps = tuple((-9.0, k / count, 9.0, k / count) for k in range(count))
    fill = replace(star.parts[0], sweeps=sweeps)
    return replace(plan, markings=(replace(star, placed=(replace(star.placed[0], parts=(fill,)),)), name))


def many_units() -> Plan:
    """Give the small plan 300 units, each with a marking of its own, in 75 loads."""
    plan = small_plan()
    markings = tuple(_name_marking(f"name {k}", k) for k in range(300))
    steps = tuple(Step(pocket, part) for pocket in range(1, 5) for part in range(10))
    path = replace(plan.loads[0].mark_path, steps=steps)
    units = [Filling(k % 4 + 1, Unit("O-2", k + 1), f"name {k}") for k in range(300)]
    loads = tuple(Load(k // 4 + 1, "A", 4.0, tuple(units[k : k + 4]), path) for k in range(0, 300, 4))
    return replace(plan, markings=markings, loads=loads)


def _name_marking(name: str, seed: int) -> Marking:
    """Ten outlines of 60 points, as letters have when their curves are flattened finely."""
    letters = [
        [
            (10 + 4 * k + (1 + 0.3 * math.sin(3 * t + seed)) * math.cos(t), 15 + 2 * math.sin(t))
            for t in (2 * math.pi * j / 60 for j in range(60))
        ]
        for k in range(10)
    ]
    sweeps = tuple((10.0, 13 + 0.1 * k, 50.0, 13 + 0.1 * k) for k in range(40))
    parts = tuple(Part("fill", (Contour.polyline(points),), "nonzero", sweeps) for points in letters)
    return Marking(name, "fob", (Placed("name", 1.0, 0.0, 0.0, 0.0, parts),))
