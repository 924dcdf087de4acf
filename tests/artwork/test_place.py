"""Placing artwork: inside the area, as large as it can be, at its alignment."""

import math
from typing import Literal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, Polygon, union_all
from shapely.geometry.base import BaseGeometry

from nesting.artwork.place import Placing, place
from nesting.geometry.contour import Contour
from nesting.geometry.drawing import Drawing, Shape
from nesting.geometry.region import Region
from nesting.job.job import Align, AlignUp, Artwork

FRAME = Contour.polyline([(2, 3), (12, 3), (12, 8), (2, 8)])
L_SHAPE = Region.polygon([(0, 0), (60, 0), (60, 15), (15, 15), (15, 60), (0, 60)])
AREAS = {
    "rectangle": Region.rectangle(60, 30).moved(-7, 4),
    "disc": Region.circle(80).moved(5, -3),
    "triangle": Region.polygon([(0, 0), (70, 0), (10, 50)]),
    "l": L_SHAPE,
    "rounded": Region.rectangle(50, 40, radius=12),
}


def drawing(*contours: Contour, width: float = 0.0) -> Drawing:
    return Drawing(100, 100, (Shape(contours, stroked=True, width=width),))


def marked(placing: Placing, art: Drawing) -> BaseGeometry:
    """Everything the beam covers, worked out by shapely alone; a round end falls short, never over."""
    covered = []
    for shape in map(placing.shape, art.shapes):
        for contour in shape.contours:
            points = contour.flattened(0.001)
            line = LineString([*points, *points[: int(contour.closed)]])
            covered.append(line.buffer(shape.width / 2) if shape.width > 1e-6 else line)
    return union_all(covered)


def put(artwork: Artwork, area: Region) -> Placing:
    """Place an artwork that is a drawing."""
    assert isinstance(artwork.content, Drawing)
    return place(artwork, artwork.content, area)


def test_fill_meets_the_rectangle_exactly() -> None:
    """The tighter direction is filled to the last digit, less the inset and the line width."""
    art = Artwork("frame", drawing(FRAME, width=1), inset=3)
    placing = put(art, Region.rectangle(50, 40))
    assert placing.scale == pytest.approx((50 - 6) / 11, rel=1e-12)
    x0, y0, x1, y1 = Drawing(0, 0, tuple(map(placing.shape, drawing(FRAME, width=1).shapes))).bounds
    assert (x0, x1) == pytest.approx((3, 47))
    assert (y0 + y1) / 2 == pytest.approx(20)


def test_size_is_that_on_the_blank_after_the_turn() -> None:
    """A frame 10 wide, turned by 90 degrees and asked 20 wide, has its height of 5 across: scale 4."""
    art = Artwork("frame", drawing(FRAME), fit="size", width=20, turn=90)
    assert put(art, Region.rectangle(50, 60)).scale == pytest.approx(4)


def test_two_sizes_bound_both_ways() -> None:
    """With width and height stated neither is passed, and proportions are kept."""
    art = Artwork("frame", drawing(FRAME), fit="size", width=30, height=10)
    assert put(art, Region.rectangle(50, 60)).scale == pytest.approx(2)


@pytest.mark.parametrize(
    ("align_x", "align_y", "corner"),
    [("left", "bottom", (0, 0)), ("right", "top", (40, 35)), ("centre", "middle", (20, 17.5))],
)
def test_true_size_sits_at_its_alignment(
    align_x: Align, align_y: AlignUp, corner: tuple[float, float]
) -> None:
    """Spare room goes to the side away from the alignment."""
    art = Artwork("frame", drawing(FRAME), fit="true", align_x=align_x, align_y=align_y)
    placing = put(art, Region.rectangle(50, 40))
    bounds = placing.shape(drawing(FRAME).shapes[0]).contours[0].bounds
    assert bounds == pytest.approx((*corner, corner[0] + 10, corner[1] + 5))


def test_circle_in_a_disc_fills_it() -> None:
    """A circle with its line, in a disc less the inset, reaches the edge to within the flattening."""
    art = Artwork("ring", drawing(Contour.circle(20, 3, 4), width=2), inset=5)
    placing = put(art, Region.circle(80))
    assert placing.scale * 22 == pytest.approx(70, rel=5e-4)
    assert (placing.x + 3 * placing.scale, placing.y + 4 * placing.scale) == pytest.approx((0, 0), abs=1e-6)


def test_rectangle_in_a_disc_has_its_corners_on_it() -> None:
    """The largest 2:1 rectangle in a disc of diameter d is d times 2/root 5 wide (Pythagoras)."""
    placing = put(Artwork("frame", drawing(FRAME)), Region.circle(90))
    assert placing.scale * 10 == pytest.approx(90 * 2 / math.sqrt(5), rel=1e-3)


@given(
    area=st.sampled_from(sorted(AREAS)),
    turn=st.floats(0, 360),
    align_x=st.sampled_from(["left", "centre", "right"]),
    align_y=st.sampled_from(["bottom", "middle", "top"]),
    inset=st.integers(0, 30).map(lambda tenths: tenths / 10),
    width=st.floats(0, 2),
    points=st.lists(st.tuples(st.floats(-50, 50), st.floats(-50, 50)), min_size=3, max_size=6, unique=True),
)
@settings(max_examples=25, deadline=None)
def test_everything_marked_stays_in_the_area(
    area: str,
    turn: float,
    align_x: Align,
    align_y: AlignUp,
    inset: float,
    width: float,
    points: list[tuple[float, float]],
) -> None:
    """Whatever the area, the turn and the alignment, the lines with their width keep clear of the edge."""
    art = drawing(Contour.polyline(points, closed=False), Contour.circle(5, 1, 1), width=width)
    artwork = Artwork("any", art, turn=turn, align_x=align_x, align_y=align_y, inset=inset)
    allowed = AREAS[area].shape("outer").buffer(-inset, quad_segs=64).buffer(2e-3)
    placing = put(artwork, AREAS[area])
    assert placing.scale > 0
    assert allowed.covers(marked(placing, art))


@pytest.mark.parametrize("area", AREAS)
def test_fill_cannot_grow_in_place(area: str) -> None:
    """Half a per cent more about its own middle would leave the area."""
    art = drawing(FRAME)
    placing = put(Artwork("frame", art), AREAS[area])
    (contour,) = placing.shape(art.shapes[0]).contours
    x0, y0, x1, y1 = contour.bounds
    x, y = (x0 + x1) / 2, (y0 + y1) / 2
    grown = contour.moved(-x, -y).scaled(1.005).moved(x, y)
    assert AREAS[area].shape("on", 1e-4).covers(Polygon(contour.points).buffer(-2e-3))
    assert not AREAS[area].shape("outer").covers(Polygon(grown.points))


@pytest.mark.parametrize("fit", ["size", "true"])
def test_what_does_not_fit_says_how_much_would(fit: Literal["size", "true"]) -> None:
    """The refusal names the size asked for and the largest possible one."""
    art = Artwork("frame", drawing(FRAME), fit=fit, width=10)
    with pytest.raises(ValueError, match=r"10 x 5 mm .* up to 4 x 2 mm"):
        put(art, Region.rectangle(4, 8))


def test_inset_that_leaves_nothing() -> None:
    """An inset of half the width is refused, in a rectangle and in a disc."""
    for area in (Region.rectangle(10, 20), Region.circle(10)):
        with pytest.raises(ValueError, match="leave nothing"):
            put(Artwork("frame", drawing(FRAME), inset=5), area)


def test_nothing_drawn() -> None:
    """A drawing without shapes is refused rather than scaled without end."""
    with pytest.raises(ValueError, match="nothing is drawn"):
        put(Artwork("blank", Drawing(10, 10, ())), Region.rectangle(10, 10))
