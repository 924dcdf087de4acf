"""A small plan made by hand, with arithmetic simple enough to follow."""

import math

from nesting.geometry.contour import Contour
from nesting.geometry.drawing import Drawing, Shape
from nesting.geometry.region import Region
from nesting.job.job import Artwork, Blank, Job, Machine, MarkSetting, OrderLine, Stock
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
    Step,
    Unit,
)

Place = tuple[str, float, float, float]
"""Blank, x, y, turn."""

PLACES: tuple[Place, ...] = (
    ("coaster", 30.0, 120.0, 0.0),
    ("coaster", 75.0, 120.0, 0.0),
    ("fob", 10.0, 40.0, 0.0),
    ("fob", 63.4, 40.0, 90.0),
)
"""Coasters 5 mm apart, which is their gap; pockets of fobs 3 mm apart, which is the web."""

FRAME = Contour.polyline([(0, 0), (10, 0), (10, 5), (0, 5)])
BAR = (Contour.polyline([(0, 0), (8, 0), (8, 4), (0, 4)]), Contour.polyline([(2, 1), (6, 1), (6, 3), (2, 3)]))
DASH = Contour.polyline([(3, 2), (5, 2)], closed=False)


def hand_made_job() -> Job:
    """Coasters 40 mm across and fobs of 30 x 20 mm, on sheets of 200 x 150 mm with a keep-out."""
    keep_out = Region.polygon([(150, 0), (200, 0), (200, 50), (150, 50)])
    coaster = Blank("coaster", Region.circle(40), 4.0, 5.0, 0.3, (0.0,), Region.circle(36), "fine")
    area = Region.rectangle(26, 16).moved(2, 2)
    fob = Blank("fob", Region.rectangle(30, 20), 4.2, 1.0, 0.2, (0.0, 90.0), area, "fine")
    frame = Artwork("frame", Drawing(10, 5, (Shape((FRAME,)),)))
    dash = Shape((DASH,))
    bar = Shape(BAR, filled=True, stroked=False, rule="evenodd")
    artworks = (frame, Artwork("bar", Drawing(8, 4, (bar, dash)), "size", width=20.0, turn=180.0))
    return Job(
        title="hand made",
        machine=Machine(600, 400, kerf={"plywood": 0.2}),
        settings=(MarkSetting("fine", interval=0.5),),
        stock=(Stock("birch", 200, 150, 3, "plywood", quantity=1, margin=8, keep_outs=(keep_out,)),),
        blanks=(coaster, fob),
        artworks=artworks,
        orders=(
            OrderLine("bars", "coaster", 3, ("bar",)),
            OrderLine("frames", "fob", 2, ("frame",)),
            OrderLine("plain", "fob", 1),
        ),
    )


def hand_made_plan(places: tuple[Place, ...] = PLACES) -> Plan:
    """Two coasters and two fobs on one sheet, loaded twice; `places` says where on the sheet they lie."""
    pockets = tuple(pocket(number, *place) for number, place in enumerate(places, start=1))
    frame = Part("line", (FRAME.scaled(2.6).moved(2, 3.5),))
    # turned by 180° and 2.5 times as large, the bar reaches from (-20, -10) to (0, 0)
    bar = tuple(contour.scaled(2.5).moved(10, 5, 180) for contour in BAR)
    parts = (Part("fill", bar, "evenodd", bar_sweeps()), Part("line", (DASH.scaled(2.5).moved(10, 5, 180),)))
    markings = (
        Marking("bar on coaster", "coaster", (Placed("bar", 2.5, 180.0, 10.0, 5.0, parts),)),
        Marking("frame on fob", "fob", (Placed("frame", 2.6, 0.0, 2.0, 3.5, (frame,)),)),
    )
    first = (
        Filling(1, Unit("bars", 1), "bar on coaster"),
        Filling(2, Unit("bars", 2), "bar on coaster"),
        Filling(3, Unit("frames", 1), "frame on fob"),
        Filling(4, Unit("frames", 2), "frame on fob"),
    )
    second = (Filling(1, Unit("bars", 3), "bar on coaster"), Filling(4, Unit("plain", 1), None))
    fill = sum({"coaster": math.pi * 400, "fob": 600}[place[0]] for place in places) / 30_000
    sheet = CutSheet("A", "birch", pockets, cut_path_by_number(pockets), fill)
    loads = tuple(
        Load(number, "A", 4.1, fillings, mark_path_by_number(pockets, fillings, markings))
        for number, fillings in enumerate((first, second), start=1)
    )
    return Plan(
        job=hand_made_job(),
        sheets=(sheet,),
        loads=loads,
        markings=markings,
        unplaced=(),
        bound=1,
        proven=True,
        bound_reason="one is the least",
        explanation="",
        warnings=(),
        seed=1,
        made_by="hand",
    )


def pocket(number: int, blank: str, x: float, y: float, turn: float) -> Pocket:
    """Make a pocket: a disc 0.3 mm, or a rectangle 0.2 mm larger all round, its path 0.1 mm inside it."""
    if blank == "coaster":
        outline, path = Region.circle(40.6), Region.circle(40.4)
    else:
        outline = Region.rectangle(30.4, 20.4, 0.2).moved(-0.2, -0.2)
        path = Region.rectangle(30.2, 20.2, 0.1).moved(-0.1, -0.1)
    return Pocket(number, blank, x, y, turn, outline.moved(x, y, turn), (path.outer.moved(x, y, turn),))


def bar_sweeps() -> tuple[tuple[float, float, float, float], ...]:
    """Sweeps of the bar, 20 x 10 mm round (0, 0) with a window of 10 x 5 mm, to and fro."""
    rows: list[tuple[float, float, float, float]] = []
    for row in range(20):
        y = -4.75 + row / 2
        spans = [(-10.0, 10.0)] if abs(y) > 2.5 else [(-10.0, -5.0), (5.0, 10.0)]
        if row % 2:
            spans = [(b, a) for a, b in reversed(spans)]
        rows += [(a, y, b, y) for a, b in spans]
    return tuple(rows)


def cut_path_by_number(pockets: tuple[Pocket, ...]) -> Path:
    """Cut pockets in the order of their numbers, each from its first vertex."""
    starts = [complex(*p.path[0].vertices[0][:2]) for p in pockets]
    travel = sum(abs(b - a) for a, b in zip([0j, *starts], starts, strict=False))
    beam = sum(p.path[0].length for p in pockets)
    return Path(tuple(Step(p.number, 0) for p in pockets), travel, travel, beam, 60.0, 60.0)


def mark_path_by_number(
    pockets: tuple[Pocket, ...], fillings: tuple[Filling, ...], markings: tuple[Marking, ...]
) -> Path:
    """Mark units in the order of their pockets' numbers, every part as drawn."""
    steps, travel, beam, here = [], 0.0, 0.0, 0j
    for filling in fillings:
        place = pockets[filling.pocket - 1]
        for marking in markings:
            for k, part in enumerate(marking.parts if marking.name == filling.marking else ()):
                ends = [
                    complex(*point) * 1j ** (place.turn / 90) + complex(place.x, place.y)
                    for point in _ends(part)
                ]
                steps.append(Step(filling.pocket, k))
                travel += abs(ends[0] - here)
                here = ends[1]
                beam += (
                    sum(abs(complex(c - a, d - b)) for a, b, c, d in part.sweeps) or part.contours[0].length
                )
    return Path(tuple(steps), travel, travel, beam, 30.0, 30.0)


def _ends(part: Part) -> tuple[tuple[float, float], tuple[float, float]]:
    if part.kind == "fill":
        return part.sweeps[0][:2], part.sweeps[-1][2:]
    vertices = part.contours[0].vertices
    return vertices[0][:2], vertices[0 if part.contours[0].closed else -1][:2]
