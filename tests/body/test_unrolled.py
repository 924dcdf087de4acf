"""The side of a lying body laid flat, against lengths measured in space and the handbook's figures."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.body.body import Sphere, Turned
from nesting.body.frustum import Frustum
from nesting.body.rest import level_shim
from nesting.body.solid import Solid
from nesting.body.surface import top
from nesting.body.unrolled import Unrolled, unrolled
from nesting.geometry.region import Region

CUPS = [
    (70.0, 90.0, 200.0),
    (90.0, 70.0, 200.0),
    (61.0, 88.0, 170.0),
    (75.0, 75.0, 120.0),
    (80.0, 80.001, 150.0),
]


def side_of(cup: tuple[float, float, float], shim: float = 0.0, limit: float = 40.0) -> Unrolled:
    """Lay the middle of a cup flat."""
    solid = Solid(Turned.tapered(*cup), shim=shim)
    length = cup[2]
    area = Region.rectangle(0.6 * length, 60).moved(0.2 * length, -30)
    return unrolled(solid, area, limit, 6)[0]


@pytest.mark.parametrize(
    ("radius", "width", "arc", "degrees"),
    [
        (37.5, 20, 20.24496, 15.4660),
        (37.5, 40, 42.19022, 32.2310),
        (45, 30, 30.58532, 19.4712),
        (5.5, 10, 12.55206, 65.380),
    ],
)
def test_a_width_from_above_is_its_arc_along_the_surface(
    radius: float, width: float, arc: float, degrees: float
) -> None:
    """Arc 2 r asin(w / 2r) and incidence asin(w / 2r) as the table of handbook section 2 prints them [D]."""
    side = side_of((2 * radius, 2 * radius, 100), limit=75)
    edge = side.seen(np.array([[50.0, arc / 2]]))
    assert edge[0] == pytest.approx([50.0, width / 2], abs=6e-6)
    assert side.incidence(edge)[0] == pytest.approx(degrees, abs=6e-5 if degrees < 60 else 6e-4)


@pytest.mark.parametrize("cup", CUPS)
@pytest.mark.parametrize("shimmed", [False, True])
def test_lengths_in_space_are_the_lengths_laid_flat(cup: tuple[float, float, float], shimmed: bool) -> None:
    """Straight flat lines of any direction, put on the body, are as long in space; a fine chain measures it.

    The heights come from the upper surface and not from the development.
    """
    shim = level_shim(Turned.tapered(*cup)) if shimmed else 0.0
    side, body = side_of(cup, shim), Turned.tapered(*cup)
    for start, end in [((70, -12), (110, 15)), ((50, -18), (50, 18)), ((60, 4), (99, 4))]:
        share = np.linspace(0, 1, 2001)[:, None]
        seen = side.seen(np.array(start) + share * (np.array(end, dtype=float) - start))
        space = np.column_stack([seen, top(body, side.pose, *seen.T)])
        length = np.linalg.norm(np.diff(space, axis=0), axis=1).sum()
        assert length == pytest.approx(math.dist(start, end), abs=2e-5)


@given(st.sampled_from(CUPS), st.booleans(), st.floats(-18, 18), st.floats(-0.35, 0.35))
def test_what_is_laid_flat_comes_back(
    cup: tuple[float, float, float], shimmed: bool, across: float, along: float
) -> None:
    """A place seen from above, laid flat and put back, is the same place."""
    side = side_of(cup, level_shim(Turned.tapered(*cup)) if shimmed else 0.0)
    seen = np.array([[cup[2] * (0.5 + along), across]])
    assert side.seen(side.flat(seen)) == pytest.approx(seen, abs=1e-7)


def test_a_ring_round_a_cone_lies_flat_as_an_arc_of_its_sector() -> None:
    """Rims are arcs of radius R / sin α in a sector of 360° sin α [D, handbook section 2]."""
    inner, outer, sector = Frustum(45, 35, 200).development
    side = side_of((70, 90, 200))
    tilt = math.radians(side.pose.tilt)
    tip = side.left + 100 * math.cos(tilt) - 40 * math.sin(tilt) - (inner + outer) / 2
    for radius, x in ((35.0, inner), (45.0, outer)):
        turn = np.radians(np.linspace(-30, 30, 7))
        ring = [(tip + x * math.cos(t * sector / 360), x * math.sin(t * sector / 360)) for t in turn]
        seen = side.seen(np.array(ring))
        assert seen[:, 1] == pytest.approx(radius * np.sin(turn), abs=1e-9)


def test_the_crown_of_a_cone_leans_by_twice_its_taper() -> None:
    """5.724810° for 45/35 over 200 mm [D, handbook section 2]; levelled, none."""
    crown = np.array([[100.0, 0.0]])
    assert side_of((70, 90, 200)).incidence(crown)[0] == pytest.approx(5.724810, abs=6e-7)
    level = side_of((70, 90, 200), level_shim(Turned.tapered(70, 90, 200)))
    assert level.incidence(crown)[0] == pytest.approx(0, abs=1e-5)


@pytest.mark.parametrize("cup", CUPS)
def test_nothing_steeper_than_the_limit_gets_room(cup: tuple[float, float, float]) -> None:
    """The room's edge is met at the limit where that bounds it, and nowhere beyond."""
    solid = Solid(Turned.tapered(*cup))
    area = Region.rectangle(100, 100).moved(40, -50)
    side, room = unrolled(solid, area, 25, 6)
    seen = side.seen(np.array([v[:2] for v in room.outer.vertices]))
    met = side.incidence(seen)
    assert met.max() <= 25.01
    assert met.max() == pytest.approx(25, abs=0.02)
    assert seen[:, 0].min() >= 40 - 0.01
    assert seen[:, 0].max() <= 140.01


def test_the_room_on_a_level_cylinder_is_a_rectangle_as_wide_as_its_arc() -> None:
    """30° either way on a radius of 37.5 mm is an arc of 39.27 mm: 2 r φ."""
    _, room = unrolled(Solid(Turned.cylinder(75, 120)), Region.rectangle(50, 90).moved(30, -45), 30, 6)
    assert room.is_rectangle
    assert room.bounds == pytest.approx((30, -37.5 * math.pi / 6, 80, 37.5 * math.pi / 6), abs=1e-8)


def test_of_a_stepped_body_the_piece_with_most_of_the_area_is_taken() -> None:
    """A mark area over a step is wrapped onto one piece; a hidden one and a sphere are refused."""
    bottle = Turned(((0, 15), (60, 15), (60, 40), (160, 40)))
    side, room = unrolled(Solid(bottle), Region.rectangle(80, 10).moved(50, -5), 30, 6)
    assert side.piece == ((60.0, 40.0), (160.0, 40.0))
    assert room.bounds[2] - room.bounds[0] == pytest.approx(70, abs=0.5)
    shouldered = Turned(((0, 15), (30, 15), (45, 40), (160, 40)))
    side, _ = unrolled(Solid(shouldered), Region.rectangle(90, 10).moved(60, -5), 30, 6)
    assert side.piece == ((45.0, 40.0), (160.0, 40.0)), "the steep shoulder is no hindrance"
    with pytest.raises(ValueError, match="a sphere cannot be laid flat"):
        unrolled(Solid(Sphere(20)), Region.rectangle(10, 10), 30, 6)
    with pytest.raises(ValueError, match="nothing of the mark area"):
        unrolled(Solid(bottle), Region.rectangle(20, 5).moved(100, 30), 30, 6)
    with pytest.raises(ValueError, match=r"even on the crown the beam meets the surface at 11.4°"):
        unrolled(Solid(Turned.tapered(40, 60, 100)), Region.rectangle(50, 10).moved(30, -5), 10, 6)


def test_what_another_part_hides_is_refused() -> None:
    """A disc on a rod that lies aslant overhangs the rod on one side: to be marked is only what is seen."""
    rod = Solid(Turned(((0, 4), (30, 4), (30, 40), (35, 40), (35, 4), (65, 4))))
    tilt, (x0, _, x1, _) = math.radians(rod.pose(6).tilt), rod.outline(6).bounds
    assert abs(tilt) > 0.3
    hidden = 0
    for x in np.arange(x0 + 1, x1 - 4, 2.0):
        try:
            unrolled(rod, Region.rectangle(3, 4).moved(x, -2), 75, 6)
        except ValueError as error:
            hidden += "a part of the body hides" in str(error)
    assert hidden > 2
