"""Filling with sweeps: inside the area, covering it, by either fill rule, in serpentine order."""

import math
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import MultiLineString, Polygon
from shapely.geometry.base import BaseGeometry

from nesting.artwork.fill import hatch
from nesting.geometry.contour import Contour
from nesting.geometry.drawing import FillRule

SQUARE = Contour.polyline([(0, 0), (10, 0), (10, 10), (0, 10)])
HUNDREDTHS = st.integers(-2000, 2000).map(lambda k: k / 100)
INNER = Contour.polyline([(3, 3), (7, 3), (7, 7), (3, 7)])


def swept(contours: list[Contour], rule: FillRule, interval: float, angle: float = 0.0) -> float:
    """Length of all sweeps times their distance: the area they stand for."""
    sweeps = hatch(contours, rule, interval, angle)
    return interval * math.fsum(math.hypot(x1 - x0, y1 - y0) for x0, y0, x1, y1 in sweeps)


@pytest.mark.parametrize("angle", [0, 30, 90, 137])
def test_a_disc_is_covered(angle: float) -> None:
    """Sweep length times interval is the disc's area, pi r squared, in any direction."""
    assert swept([Contour.circle(20, 5, -3)], "nonzero", 0.05, angle) == pytest.approx(
        math.pi * 100, rel=2e-3
    )


def test_fill_rules_differ_where_the_standard_says() -> None:
    """A ring inside one of the same direction is a hole by even-odd only (SVG 2, section 13.4.2)."""
    assert swept([SQUARE, INNER], "evenodd", 0.1) == pytest.approx(100 - 16, abs=0.5)
    assert swept([SQUARE, INNER], "nonzero", 0.1) == pytest.approx(100, abs=0.5)
    assert swept([SQUARE, INNER.reversed()], "nonzero", 0.1) == pytest.approx(100 - 16, abs=0.5)


def test_lines_run_back_and_forth() -> None:
    """Each line starts on the side where the last one ended, its pieces in running order."""
    sweeps = hatch([SQUARE, INNER], "evenodd", 1.0)
    rows: dict[float, list[tuple[float, float]]] = {}
    for x0, y0, x1, _ in sweeps:
        rows.setdefault(y0, []).append((x0, x1))
    assert sorted(rows) == list(rows) == [k + 0.5 for k in range(10)]
    assert rows[4.5] == [(0.0, 3.0), (7.0, 10.0)]
    assert rows[5.5] == [(10.0, 7.0), (3.0, 0.0)]


def test_an_area_thinner_than_the_interval_is_not_lost() -> None:
    """A bar of 0.04 mm gets one line along its middle at an interval of 0.1 mm."""
    bar = Contour.polyline([(0, 0), (9, 0), (9, 0.04), (0, 0.04)])
    assert hatch([bar], "nonzero", 0.1) == ((0.0, 0.02, 9.0, 0.02),)


def test_no_area_gives_no_sweep() -> None:
    """A line, and a flat ring, have no inside."""
    assert hatch([Contour.polyline([(0, 0), (5, 0)], closed=False)], "nonzero", 0.1) == ()
    assert hatch([Contour.polyline([(0, 0), (5, 5)])], "evenodd", 0.1) == ()


@given(
    points=st.lists(st.tuples(HUNDREDTHS, HUNDREDTHS), min_size=3, max_size=9),
    angle=st.floats(0, 180),
    interval=st.floats(0.2, 2),
)
@settings(max_examples=80, deadline=None)
def test_sweeps_lie_in_the_area_of_any_polygon(
    points: list[tuple[float, float]], angle: float, interval: float
) -> None:
    """Even-odd sweeps of any polygon, crossing itself or not, stay in the area shapely makes of it."""
    contour = Contour.polyline(points)
    # what an odd number of the triangles from one corner to every edge cover is what even-odd means
    area: BaseGeometry = Polygon()
    for a, b in pairwise(points):
        triangle = Polygon([points[0], a, b])
        area = area.symmetric_difference(triangle) if triangle.area > 0 else area
    area = area.buffer(1e-6)
    sweeps = hatch([contour], "evenodd", interval, angle)
    lines = MultiLineString([((a, b), (c, d)) for a, b, c, d in sweeps])
    assert lines.difference(area).length < 1e-6 * max(lines.length, 1)
