"""Artwork that covers its mark area and is cut off at the outline, judged by the check and by shapely."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, Polygon, box, union_all
from shapely.geometry.base import BaseGeometry

from nesting.artwork.place import place
from nesting.artwork.prepare import prepare_markings
from nesting.check.markings import check_markings
from nesting.check.report import Findings
from nesting.errors import InputError
from nesting.geometry.contour import Contour
from nesting.geometry.drawing import Drawing, Shape
from nesting.geometry.picture import Picture
from nesting.geometry.region import Region
from nesting.job.job import (
    Align,
    AlignUp,
    Around,
    Artwork,
    Blank,
    Dots,
    Hatch,
    Job,
    Lettering,
    Machine,
    MarkSetting,
    OrderLine,
)
from nesting.plan_values import Marking, Part, Plan
from nesting_adapters.stroke_font import StrokeFonts

SQUARE = Contour.polyline([(0, 0), (10, 0), (10, 10), (0, 10)])
BANNER = Drawing(
    40,
    10,
    (
        Shape((SQUARE, Contour.circle(6, 5, 5)), filled=True, stroked=False, rule="evenodd"),
        Shape((Contour.circle(9, 20, 5),), filled=True),
        Shape((SQUARE.moved(30, 0),), filled=True, stroked=False),
        Shape((Contour.polyline([(0, 2), (40, 8), (40, 2), (0, 8)], closed=False),)),
    ),
)
AREAS = {
    "box": Region.rectangle(60, 40).moved(-8, 3),
    "disc": Region.circle(50),
    "rounded": Region.rectangle(50, 30, radius=8),
    "l": Region.polygon([(0, 0), (60, 0), (60, 15), (15, 15), (15, 60), (0, 60)]),
}
SLOPE = Picture.of(np.tile(np.linspace(0, 255, 60).round().astype(np.uint8), (40, 1)), 60.0, 40.0)


def job(artwork: Artwork, area: Region) -> Job:
    """One unit with one artwork."""
    blank = Blank("tag", area, 3.0, 1.0, 0.2, (0.0,), area, "fine")
    order = OrderLine("line", "tag", 1, (artwork.name,))
    return Job(
        "test", Machine(300, 200), (MarkSetting("fine", interval=0.4),), (), (blank,), (artwork,), (order,)
    )


def faults(asked: Job, marking: Marking) -> list[str]:
    """List what the independent check says of a marking."""
    plan = Plan(
        asked, (), (), (marking,), (), 0,
        proven=False, bound_reason="", explanation="", warnings=(), seed=1, made_by="hand",
    )  # fmt: skip
    findings = Findings()
    check_markings(plan, findings)
    return [str(violation) for violation in findings.report().violations]


def _polygon(part: Part) -> BaseGeometry:
    """Overlay the contours of a cut fill, even-odd."""
    area: BaseGeometry = Polygon()
    for contour in part.contours:
        area = area ^ Polygon(contour.flattened(1e-3))
    return area


def test_the_tighter_side_is_the_one_that_stands_out() -> None:
    """A drawing of 40 x 10 on 60 x 40 is scaled by 4 (40/10), and stands out by 50 mm left and right."""
    placing = place(Artwork("banner", BANNER, "fill"), BANNER, Region.rectangle(60, 40))
    assert placing.scale == pytest.approx(4)
    assert (placing.x, placing.y) == pytest.approx((-50, 0))


@pytest.mark.parametrize(("align_x", "x"), [("left", 0), ("centre", -50), ("right", -100)])
def test_alignment_says_what_is_seen(align_x: Align, x: float) -> None:
    """Left shows the drawing's left end, right its right one."""
    artwork = Artwork("banner", BANNER, "fill", align_x=align_x)
    assert place(artwork, BANNER, Region.rectangle(60, 40)).x == pytest.approx(x)


def test_an_offset_grows_what_would_uncover_the_area() -> None:
    """Moved up by 5 mm, twice 5 mm more height are needed (50/10); with lower ends aligned none will do."""
    placing = place(Artwork("banner", BANNER, "fill", offset=(0, 5)), BANNER, Region.rectangle(60, 40))
    assert placing.scale == pytest.approx(5, rel=1e-6)
    with pytest.raises(ValueError, match="offset"):
        place(
            Artwork("banner", BANNER, "fill", align_y="bottom", offset=(0, 5)),
            BANNER,
            Region.rectangle(60, 40),
        )


@given(
    area=st.sampled_from(sorted(AREAS)),
    turn=st.sampled_from([0.0, 90.0]) | st.floats(0, 360),
    align_x=st.sampled_from(["left", "centre", "right"]),
    align_y=st.sampled_from(["bottom", "middle", "top"]),
    inset=st.sampled_from([0.0, 1.5]),
    margin=st.sampled_from([0.0, 3.0]),
    mirrored=st.booleans(),
)
@settings(max_examples=25, deadline=None)
def test_what_is_marked_is_the_artwork_placed_and_cut(
    area: str, turn: float, align_x: Align, align_y: AlignUp, inset: float, margin: float, mirrored: bool
) -> None:
    """Whatever the area and the rule, it is covered, fills are what shapely cuts, and the check agrees."""
    artwork = Artwork(
        "banner", BANNER, "fill", turn=turn, align_x=align_x, align_y=align_y, inset=inset,
        margins=(margin, 0, 0, 0), mirrored=mirrored,
    )  # fmt: skip
    asked = job(artwork, AREAS[area])
    (marking,) = prepare_markings(asked)
    assert faults(asked, marking) == []
    whole = AREAS[area].shape("on", 1e-3)
    x0, y0, x1, y1 = whole.bounds
    room = whole.buffer(-inset, quad_segs=64) & box(x0 + margin + inset, y0, x1, y1)
    shapes = list(map(place(artwork, BANNER, AREAS[area]).shape, BANNER.shapes))
    drawn = [_polygon(Part("fill", shape.contours)) for shape in shapes if shape.filled]
    corners = [contour.flattened(1e-3) for shape in shapes for contour in shape.contours]
    assert shapely.MultiPoint(np.vstack(corners)).convex_hull.buffer(0.02).covers(room)
    found = union_all([_polygon(part) for part in marking.parts if part.kind == "fill"])
    wanted = union_all(drawn) & room
    assert (found ^ wanted).area < 0.02 * (wanted.length + room.length)
    lines = [LineString(part.contours[0].points) for part in marking.parts if part.kind == "line"]
    assert all(room.buffer(0.02).covers(line) for line in lines)


SOUND = {
    "dots": Artwork("art", Dots(SLOPE, "ordered"), "fill"),
    "dots turned": Artwork("art", Dots(SLOPE), "fill", turn=25, mirrored=True),
    "dots in a drawing": Artwork("art", BANNER, "fill", turn=10, pictures=(Dots(SLOPE, x=-20, y=-5),)),
    "rings": Artwork("art", BANNER, "fill", hatch=Hatch("rings", interval=0.5)),
    "copies": Artwork("art", BANNER, "fill", around=Around(7, 20), offset=(1, 2)),
}


@pytest.mark.parametrize("area", ["box", "disc", "l"])
@pytest.mark.parametrize("name", SOUND)
def test_pictures_rings_and_copies_are_cut(name: str, area: str) -> None:
    """Whatever is cut, the check finds nothing in it."""
    asked = job(SOUND[name], AREAS[area])
    (marking,) = prepare_markings(asked)
    assert faults(asked, marking) == []


def _with(marking: Marking, parts: tuple[Part, ...], grown: float = 1.0) -> Marking:
    (placed,) = marking.placed
    return replace(marking, placed=(replace(placed, parts=parts, scale=grown * placed.scale),))


def test_the_check_finds_what_is_not_cut_so() -> None:
    """A part left out, added, moved or left whole, and another scale, are seen by the check."""
    asked = job(Artwork("banner", BANNER, "fill", align_x="left"), AREAS["box"])
    (marking,) = prepare_markings(asked)
    (placed,) = marking.placed
    parts = placed.parts
    for k, part in enumerate(parts):
        moved = replace(part, contours=tuple(contour.moved(0.3, 0.3) for contour in part.contours))
        assert faults(asked, _with(marking, parts[:k] + parts[k + 1 :]))
        assert faults(asked, _with(marking, (*parts[:k], moved, *parts[k + 1 :])))
    assert faults(asked, _with(marking, parts + parts[-1:]))
    assert faults(asked, _with(marking, parts, grown=1.01))
    (dotted,) = prepare_markings(asked := job(Artwork("art", Dots(SLOPE), "fill"), AREAS["disc"]))
    (part,) = dotted.parts
    for sweeps in (part.sweeps[: len(part.sweeps) // 2], (*part.sweeps, (-40.0, 0.0, -30.0, 0.0))):
        assert faults(asked, _with(dotted, (replace(part, sweeps=sweeps),)))


def test_what_lies_inside_whole_keeps_its_arcs() -> None:
    """A circle in the middle of a larger drawing is still two arcs, filled and followed."""
    drawing = Drawing(40, 40, (Shape((Contour.circle(5, 20, 20),), filled=True), Shape((SQUARE.scaled(4),))))
    (marking,) = prepare_markings(job(Artwork("art", drawing, "fill"), Region.rectangle(40, 20)))
    assert [part.kind for part in marking.parts] == ["fill", "line", "line", "line"]
    assert all(vertex[2] for part in marking.parts[:2] for vertex in part.contours[0].vertices)


@pytest.mark.parametrize("inset", [0.0, 5.0])
def test_a_line_that_touches_a_disc_leaves_nothing(inset: float) -> None:
    """The sides of a square round a disc meet it in points; round a square they are its outline."""
    drawing = Drawing(10, 10, (Shape((SQUARE,)), Shape((Contour.circle(2, 5, 5),))))
    for area, lines in ((Region.circle(60), 1), (Region.rectangle(60, 60), 2)):
        (marking,) = prepare_markings(job(Artwork("art", drawing, "fill", inset=inset), area))
        assert len(marking.parts) == lines


def test_what_cannot_cover_is_refused() -> None:
    """A single stroke has no area to cover with, and a text is not cut off."""
    stroke = Drawing(9, 9, (Shape((Contour.polyline([(0, 0), (9, 9)], closed=False),)),))
    text = Lettering(StrokeFonts().read("round", "Ada"), "Ada")
    for content, message in ((stroke, "no area"), (text, "cuts off")):
        with pytest.raises(InputError, match=message):
            prepare_markings(job(Artwork("art", content, "fill"), AREAS["box"]))
