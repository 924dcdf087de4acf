"""The bound on paths: below every path, and met where the best path is known."""

import random

import pytest

from nesting import order_path
from nesting.geometry.contour import Contour
from nesting.job.job import Machine
from nesting.packing.stop import Stop
from nesting.routing.bound import path_bound
from nesting.routing.search import Task, find_ways
from nesting.routing.shapes import Line
from nesting.routing.strokes import make_strokes
from tests.routing.paths import best_of_all, random_contours

START = (0.0, 0.0)


@pytest.mark.parametrize("seed", range(20))
def test_below_the_best(seed: int) -> None:
    """The bound does not pass the best of all orders and ways."""
    chance = random.Random(seed)
    contours = random_contours(chance, chance.randint(1, 6))
    best = best_of_all(contours)
    strokes = make_strokes([Line(contour, 10) for contour in contours], None, 9)
    bound = path_bound(strokes, START, best)
    assert 0 < bound <= best * (1 + 1e-9)


def test_grid_of_pockets() -> None:
    """28 pockets in a 7 x 4 grid, each entered at one corner, are run with proven least travel.

    The least is plain to see: 27 legs of one pitch, 24 of them the short one, after the way to the first.
    """
    grid = [
        Contour.circle(60, x=35 + 70 * column, y=50 + 100 * row) for row in range(4) for column in range(7)
    ]
    strokes = make_strokes([Line(contour, 10) for contour in grid], None, 1)
    ways = find_ways(Task(strokes, (5.0, 50.0)), Stop(effort=0.3), 1).ways
    travel = strokes.total(ways, (5.0, 50.0))
    assert travel == pytest.approx(24 * 70 + 3 * 100)
    assert path_bound(strokes, (5.0, 50.0), travel) == pytest.approx(travel, rel=1e-9)


def test_bound_of_an_order() -> None:
    """Asked for, the bound lies near the path, in mm without a machine and in s with one."""
    chance = random.Random(3)
    dots = [Contour.circle(0.01, chance.uniform(0, 300), chance.uniform(0, 200)) for _ in range(40)]
    path = order_path(dots, effort=0.3, prove=True)
    assert path.bound is not None
    assert 0.97 * path.travel < path.bound <= path.travel
    timed = order_path(dots, machine=Machine(600, 400), effort=0.3, prove=True)
    assert timed.bound is not None
    assert timed.seconds is not None
    assert 0.97 * timed.seconds < timed.bound <= timed.seconds
    assert order_path(dots, effort=0.01).bound is None


def test_bound_of_a_few() -> None:
    """Few contours are proven, and the bound is the path's own figure."""
    path = order_path(random_contours(random.Random(1), 5), prove=True)
    assert path.proven
    assert path.bound == path.travel
