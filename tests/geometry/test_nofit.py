"""No-fit polygons, judged by shapely's own intersection test and by checks worked out by hand."""

import json
import math
from itertools import pairwise

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray
from shapely import Polygon
from shapely.affinity import rotate, translate

from nesting.geometry.minkowski import convex_pieces, minkowski_sums, shrunk
from nesting.geometry.nofit import SLACK_MM, NoFit, no_fit
from tests.data_folder import data_folder

CHECKS = data_folder()
needs_data = pytest.mark.skipif(CHECKS is None, reason="the open data are not here")


def hand_checks(kind: str) -> list[dict]:  # type: ignore[type-arg]
    """Read the hand-checkable cases; the source stands beside each in the file."""
    if CHECKS is None:
        return []
    return [c for c in json.loads((CHECKS / "nfp_checks.json").read_text())["checks"] if c["kind"] == kind]


def nofit_of(static: Polygon, orbiting: Polygon, gap: float = 0.0) -> NoFit:
    """Make the no-fit polygon of two polygons."""
    return no_fit(convex_pieces(static), convex_pieces(orbiting), gap)


def star(rng: np.random.Generator, corners: int, hole: bool = False) -> Polygon:
    """Draw a polygon whose corners lie round (0, 0) in all directions, sometimes with a hole."""
    angles = (np.arange(corners) + rng.uniform(0.05, 0.95, corners)) * 2 * math.pi / corners
    radii = rng.uniform(6, 20, corners)
    outline = np.column_stack([np.cos(angles), np.sin(angles)]) * radii[:, None]
    return Polygon(outline, [outline[::-1] * 0.4] if hole else [])


@needs_data
@pytest.mark.parametrize("check", hand_checks("minkowski_sum"), ids=lambda c: c["source"])
def test_minkowski_sums_of_the_literature(check: dict) -> None:  # type: ignore[type-arg]
    """Sums printed in a manual and an encyclopaedia come out corner for corner."""
    (p,), (q,) = convex_pieces(Polygon(check["P"])), convex_pieces(Polygon(check["Q"]))
    found = minkowski_sums([p], [q]).polygons()[0]
    assert found.area == pytest.approx(check["area"], abs=1e-12)
    assert found.symmetric_difference(Polygon(check["result"])).area < 1e-12


@needs_data
@pytest.mark.parametrize("check", hand_checks("nfp"), ids=lambda c: c["source"])
def test_no_fit_polygons_worked_out_by_hand(check: dict) -> None:  # type: ignore[type-arg]
    """Slots, enclosed rooms and brackets give the polygon worked out by hand, degenerate slots too."""
    found = nofit_of(Polygon(check["static"]), Polygon(check["orbiting"]))
    wanted = Polygon(check["outer"], check.get("holes", []))
    assert found.polygon.area == pytest.approx(check["area"], abs=1e-9)
    assert found.polygon.symmetric_difference(wanted).area < 1e-9
    for a, b in pairwise(check.get("degenerate_segment", [])):
        along = np.linspace(a, b, 7)
        assert np.all(found.depth(along) < 1e-12)
        assert np.all(found.depth(along[1:-1] + np.array([0.01, 0])) > 0.009)
        assert not shapely.contains_xy(found.region, along).any()


def agrees(seed: int, corners: int = 12) -> None:
    """Compare one random pair with shapely's intersection test at random positions."""
    rng = np.random.default_rng(seed)
    static = star(rng, int(rng.integers(corners - 7, corners)), hole=bool(rng.random() < 0.3))
    orbiting = star(rng, int(rng.integers(3, 9)))
    if rng.random() < 0.5:
        orbiting = shapely.transform(orbiting, lambda points: points * 0.25)
    gap = float(rng.choice([0.0, 1.5]))
    found = nofit_of(static, orbiting, gap)
    at = rng.uniform(-40, 40, (40, 2))
    depths = found.depth(at)
    assert np.array_equal(depths > SLACK_MM, shapely.contains_xy(found.region, at) & (depths > SLACK_MM))
    for (x, y), depth in zip(at, depths, strict=True):
        moved = translate(orbiting, x, y)
        apart = static.distance(moved)
        if depth == 0.0:
            assert apart >= gap - 1e-9
            assert static.intersection(moved).area < 1e-9
        else:
            # a round corner of the gap may stand out by as much as arcs are flattened
            assert apart < gap + 0.021
            assert gap or static.intersection(moved).area > 0


@pytest.mark.parametrize("seed", range(200))
def test_it_agrees_with_the_intersection_test(seed: int) -> None:
    """At random positions, forbidden is what shapely finds intersecting or nearer than the gap."""
    agrees(seed)


@pytest.mark.parametrize("seed", range(20))
def test_it_agrees_where_most_hulls_are_left_out(seed: int) -> None:
    """So it does for outlines of so many convex pieces that only some of their pairs are kept."""
    agrees(3000 + seed, corners=40)


@pytest.mark.parametrize("gap", [0.0, 2.0])
def test_hulls_left_out_are_covered_by_the_others(gap: float) -> None:
    """Two crescents have far fewer hulls than pairs of pieces, and these forbid the same positions."""
    arc = np.linspace(0, math.pi, 25)
    half = np.column_stack([np.cos(arc), np.sin(arc)])
    crescent = Polygon(np.concatenate([30 * half, 17 * half[::-1]]))
    for turn in (0, 90, 180):
        pieces, others = convex_pieces(crescent), convex_pieces(rotate(crescent, turn, (0, 0)))
        found = no_fit(pieces, others, gap)
        assert len(found.hulls.starts) < len(pieces) * len(others) / 2
        whole = shapely.union_all([no_fit([one], [other], gap).region for one in pieces for other in others])
        assert shapely.symmetric_difference(found.region, whole).area < 1e-9


@pytest.mark.parametrize("seed", range(10))
def test_sides_are_moved_in_as_shapely_moves_them(seed: int) -> None:
    """Convex polygons pulled in are what shapely's mitred buffer gives, those with lost sides too."""
    rng = np.random.default_rng(seed)
    for distance in (0.01, 1.0, 30.0):
        rings = minkowski_sums(convex_pieces(star(rng, 9)), [np.array([[0.0, 0], [0.3, 0], [0, 8]])])
        wanted = shapely.buffer(rings.polygons(), -distance, join_style="mitre", mitre_limit=100)
        for one, other in zip(shrunk(rings, distance), wanted, strict=True):
            assert one.symmetric_difference(other).area < 1e-9


def test_corners_that_all_but_coincide_are_one() -> None:
    """A corner drawn twice, a rounding error apart, adds no piece and no side."""
    square = Polygon([(0, 0), (2, 0), (2, 2), (0, 2)])
    doubled = Polygon([(0, 0), (1e-13, 0), (2, 0), (2, 1), (2 - 1e-14, 1 + 1e-14), (2, 2), (0, 2)])
    (piece,) = convex_pieces(doubled)
    assert Polygon(piece).equals(square)


@pytest.mark.slow
@pytest.mark.parametrize("batch", range(20))
def test_it_agrees_with_the_intersection_test_on_many_pairs(batch: int) -> None:
    """The same on two thousand more pairs."""
    for seed in range(1000 + 100 * batch, 1100 + 100 * batch):
        agrees(seed)


@pytest.mark.parametrize("seed", range(10))
def test_pieces_are_convex_and_make_up_the_polygon(seed: int) -> None:
    """The pieces of a polygon with a hole are convex, do not overlap, and add up to it."""
    polygon = star(np.random.default_rng(seed), 14, hole=True)
    pieces = [Polygon(piece) for piece in convex_pieces(polygon)]
    assert sum(piece.area for piece in pieces) == pytest.approx(polygon.area, abs=1e-9)
    assert shapely.union_all(pieces).symmetric_difference(polygon).area < 1e-9
    assert all(piece.convex_hull.area == pytest.approx(piece.area, abs=1e-9) for piece in pieces)


@pytest.mark.parametrize("turn", [90.0, 37.0, 180.0])
def test_turning_both_outlines_turns_the_no_fit_polygon(turn: float) -> None:
    """The turned no-fit polygon is that of the turned outlines."""
    rng = np.random.default_rng(3)
    static, orbiting = star(rng, 9), star(rng, 7)
    turned = nofit_of(rotate(static, turn, (0, 0)), rotate(orbiting, turn, (0, 0)), 2.0)
    assert (
        turned.polygon.symmetric_difference(nofit_of(static, orbiting, 2.0).turned(turn).polygon).area < 0.1
    )


def test_a_gap_is_exact_on_straight_sides_and_never_short_at_corners() -> None:
    """Grown by a gap, sides stand off by exactly the gap and corners by no less, by 0.02 mm at most more."""
    square = Polygon([(0, 0), (10, 0), (10, 10), (0, 10)])
    grown = nofit_of(square, square, 3.0).polygon
    assert isinstance(grown, Polygon)
    assert grown.bounds == pytest.approx((-13, -13, 13, 13), abs=1e-12)
    reach: NDArray[np.float64] = np.array(
        [math.dist(point, (10, 10)) for point in grown.exterior.coords if point[0] > 10 and point[1] > 10]
    )
    assert reach.min() >= 3.0
    assert reach.max() <= 3.0201
