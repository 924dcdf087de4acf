"""Offsets that keep true arcs."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, reject, settings
from hypothesis import strategies as st
from shapely import MultiPoint, Point, Polygon

from nesting.geometry.contour import Contour
from nesting.geometry.offset import offset
from nesting.geometry.region import Region

QUARTER = math.tan(math.pi / 8)


def furthest_error(source: Region, result: Region, distance: float) -> float:
    """Largest difference between |distance| and the distance of the result's outline from the source.

    Measured by shapely on a source flattened far below a micrometre: it shares nothing with the
    distances that the offset itself works with.
    """
    edge = source.shape("on", 1e-6).boundary
    shapely.prepare(edge)
    samples = shapely.points(np.concatenate([contour.flattened(0.01) for contour in result.contours]))
    return float(np.abs(shapely.distance(edge, samples) - abs(distance)).max())


def misplaced(source: Region, results: tuple[Region, ...], distance: float) -> int:
    """Count random points that are on the wrong side of an offset outline by more than 3 µm.

    The definition itself is the oracle: a point is in the offset region if it lies in the source or no
    further than the distance away (shrinking: in the source and no nearer to its edge). A buffer of a
    fine polygon is not: shapely's own is now and then wrong by whole square millimetres.
    """
    x0, y0, x1, y1 = source.bounds
    room = max(distance, 0) + 1
    places = np.random.default_rng(1).uniform((x0 - room, y0 - room), (x1 + room, y1 + room), (1500, 2))
    points, shape = np.array([Point(place) for place in places], dtype=object), source.shape("on", 1e-5)
    shapely.prepare(shape)
    signed = np.where(shapely.contains(shape, points), -1, 1) * shapely.distance(shape.boundary, points)
    inside = shapely.contains(shapely.union_all([r.shape("on", 1e-4) for r in results]), points)
    return int(((signed < distance) != inside)[np.abs(signed - distance) > 3e-3].sum())


def test_circle_stays_two_arcs() -> None:
    """A disc grows and shrinks to a disc of two arcs."""
    for distance in (0.2, -0.2, -44.9, 100):
        assert offset(Region.circle(90), distance) == (Region.circle(90 + 2 * distance),)


def test_handbook_pocket_path() -> None:
    """The path of a pocket is the wanted size less the kerf: handbook section 3, 40.693980 - 0.2."""
    (path,) = offset(Region.rectangle(40.693980, 100), -0.1)
    x0, y0, x1, y1 = path.bounds
    assert (x1 - x0, y1 - y0) == pytest.approx((40.493980, 99.8), abs=1e-9)
    assert path.is_rectangle


def test_handbook_disc_path() -> None:
    """The path round a disc of 90 with a kerf of 0.2 has diameter 90.2: handbook section 3."""
    assert offset(Region.circle(90), 0.1)[0].bounds == pytest.approx((-45.1, -45.1, 45.1, 45.1), abs=1e-12)


def test_rectangle_gets_round_corners() -> None:
    """A grown rectangle has four lines and four quarter arcs round its corners."""
    (grown,) = offset(Region.rectangle(30, 60), 2)
    assert sorted(b for _, _, b in grown.outer.vertices) == pytest.approx([0] * 4 + [QUARTER] * 4)
    assert grown.bounds == pytest.approx((-2, -2, 32, 62))


def test_rounded_rectangle_keeps_its_arcs() -> None:
    """Rounded corners keep their centres; once the radius is used up the corner is sharp."""
    source = Region.rectangle(30, 60, radius=5)
    for distance in (3, -2):
        (found,) = offset(source, distance)
        wanted = Region.rectangle(30 + 2 * distance, 60 + 2 * distance, radius=5 + distance)
        assert len(found.outer.vertices) == 8
        assert found.area == pytest.approx(wanted.area, abs=1e-9)
    assert [len(r.outer.vertices) for r in offset(source, -5)] == [4]
    assert offset(source, -6)[0].is_rectangle


def test_dumb_bell_splits() -> None:
    """A shape with a narrow neck falls into two when shrunk, and vanishes when shrunk further."""
    half = [(0, 0), (20, 0), (20, 9), (40, 9), (40, 0), (60, 0)]
    bell = Region.polygon([*half, *((x, 20 - y) for x, y in reversed(half))])
    # a square of side 16, and what is left of the neck between the arcs round its two corners
    neck = 2 * (2 - math.sqrt(3)) - 2 * (math.pi / 3 - math.sqrt(3) / 2)
    assert [r.area for r in offset(bell, -2)] == pytest.approx([256 + neck] * 2, abs=1e-9)
    assert offset(bell, -10) == ()


def test_hole_shrinks_and_closes() -> None:
    """A hole gets smaller by growing the region, and closes."""
    washer = Region(Contour.circle(60), (Contour.circle(20),))
    assert offset(washer, 4)[0].area == pytest.approx(math.pi * (34**2 - 6**2))
    assert offset(washer, 10.5) == (Region.circle(81),)


def test_notch_arc_that_is_used_up() -> None:
    """Growing into a round notch deeper than its radius leaves the lines beside it to meet."""
    notch = Region(Contour(((0, 0, 0), (30, 0, 0), (30, 20, 0), (18, 20, -1), (12, 20, 0), (0, 20, 0))))
    (grown,) = offset(notch, 2)
    assert furthest_error(notch, grown, 2) < 1e-6
    (closed,) = offset(notch, 5)
    assert furthest_error(notch, closed, 5) < 1e-6
    assert len(closed.outer.vertices) < 12


def test_ellipse_keeps_every_piece() -> None:
    """A polygon of many short edges grows to a line and an arc for each, by Steiner's formula."""
    source = Region.ellipse(60, 30)
    (grown,) = offset(source, 3)
    assert len(grown.outer.vertices) == 2 * len(source.outer.vertices)
    assert grown.area == pytest.approx(source.area + 3 * source.outer.length + 9 * math.pi, abs=1e-6)


def test_nothing_and_no_number() -> None:
    """An offset of 0 changes nothing; one that is no number is refused."""
    assert offset(Region.circle(3), 0) == (Region.circle(3),)
    with pytest.raises(ValueError, match="finite"):
        offset(Region.circle(3), math.nan)


@st.composite
def star_shapes(draw: st.DrawFn) -> Region:
    """Star-shaped outlines of lines and arcs, with deep and shallow corners both ways."""
    count = draw(st.integers(3, 12))
    radii = draw(st.lists(st.floats(8, 40), min_size=count, max_size=count))
    bulges = draw(st.lists(st.sampled_from([0, 0, 0.1, 0.35, -0.1, -0.25]), min_size=count, max_size=count))
    angles = [2 * math.pi * k / count for k in range(count)]
    vertices = [(r * math.cos(a), r * math.sin(a), b) for r, a, b in zip(radii, angles, bulges, strict=True)]
    try:
        region = Region(Contour(tuple(vertices)))
    except ValueError:
        reject()
    # arcs that cross by less than a region notices have no exact offset: they have a test of their own
    assume(region.shape("on", 1e-4).is_valid)
    return region


@settings(max_examples=40, deadline=None)
@given(star_shapes(), st.floats(0.05, 15), st.sampled_from([1, -1]))
def test_offsets_obey_the_definition(source: Region, size: float, sign: int) -> None:
    """The outline lies at the distance stated, to 1 µm, and what is within it is inside."""
    results = offset(source, sign * size)
    assert len(results) == 1 or sign < 0
    assert max((furthest_error(source, r, size) for r in results), default=0) < 1e-3
    assert misplaced(source, results, sign * size) == 0


@settings(max_examples=40, deadline=None)
@given(star_shapes(), st.floats(0.05, 8))
def test_shrinking_undoes_growing(source: Region, distance: float) -> None:
    """A region grown and shrunk again by as much covers itself: nothing narrow was lost."""
    (grown,) = offset(source, distance)
    back = shapely.union_all([region.shape("on", 1e-4) for region in offset(grown, -distance)])
    assert back.buffer(2e-3).covers(source.shape("on", 1e-4))


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(st.floats(0, 80), st.floats(0, 80)), min_size=3, max_size=12), st.floats(0.1, 30))
def test_convex_outlines_obey_steiner(points: list[tuple[float, float]], distance: float) -> None:
    """Area and length of a grown convex outline are Steiner's: A + L d + pi d², L + 2 pi d."""
    hull = MultiPoint(points).convex_hull
    assume(isinstance(hull, Polygon) and hull.area > 1)
    assert isinstance(hull, Polygon)
    source = Region.polygon(hull.exterior.coords[:-1])
    (grown,) = offset(source, distance)
    length = source.outer.length
    assert grown.area == pytest.approx(source.area + length * distance + math.pi * distance**2, rel=1e-7)
    assert grown.outer.length == pytest.approx(length + 2 * math.pi * distance, rel=1e-7)


def test_outline_that_just_crosses_itself() -> None:
    """Where no exact offset exists, polygons stand in that keep the distance and little more.

    Two arcs bulge towards each other and cross by 5 µm, too little for a region to refuse it.
    """
    bulge, height = 0.4, 40 * 0.4 - 0.005
    pinched = Region(
        Contour(((0, 0, -bulge), (40, 0, 0), (40, height, -bulge), (0, height, 0))),
    )
    assert not pinched.shape("on", 1e-4).is_valid
    edge = shapely.make_valid(pinched.shape("on", 1e-5), method="structure").boundary
    (grown,) = offset(pinched, 1)
    for region in (grown, *offset(pinched, -1)):
        apart = [shapely.distance(edge, Point(x, y)) for x, y, _ in region.outer.vertices]
        assert min(apart) > 1 - 1e-3
        assert max(apart) < 1 + 5e-3
