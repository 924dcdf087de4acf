"""Ordering of contours: complete, measured rightly, and as short as trying everything."""

import itertools
import math
import random

import pytest

from nesting import InputError, order_path
from nesting.geometry.contour import Contour
from nesting.job.job import Machine
from nesting.job.kinematics import Kinematics
from nesting.motion.profile import move_time
from nesting.motion.time import contour_time
from nesting.routing.bound import path_bound
from nesting.routing.order import PathOrder
from nesting.routing.shapes import Line
from nesting.routing.strokes import make_strokes
from tests.routing.paths import best_of_all, ends, random_contours, travelled


def recomputed(contours: list[Contour], path: PathOrder) -> float:
    """Travel of a path from the geometry of its steps."""
    return travelled([ends(contours[s.contour], s.start, s.backwards) for s in path.steps])


@pytest.mark.parametrize("seed", range(15))
def test_few_contours(seed: int) -> None:
    """Up to six contours are run as short as the best of all orders and ways, and called proven."""
    chance = random.Random(seed)
    contours = random_contours(chance, chance.randint(1, 6))
    path = order_path(contours)
    assert path.proven
    assert path.travel == pytest.approx(best_of_all(contours), rel=1e-9)
    assert path.travel == pytest.approx(recomputed(contours, path), rel=1e-9)


@pytest.mark.parametrize("count", [13, 60, 170])
def test_complete(count: int) -> None:
    """Every contour is run once, and the stated lengths are those of the steps and of the order given."""
    contours = random_contours(random.Random(count), count, corners=40)
    path = order_path(contours, effort=0.3)
    assert sorted(step.contour for step in path.steps) == list(range(count))
    assert path.travel == pytest.approx(recomputed(contours, path), rel=1e-9)
    assert path.given_travel == pytest.approx(travelled([ends(c) for c in contours]), rel=1e-9)
    assert path.beam == pytest.approx(math.fsum(c.length for c in contours), rel=1e-9)
    assert path.travel < path.given_travel / 2
    assert path.seconds is None


def test_seconds() -> None:
    """With a machine the time is that of the moves and the contours, one after the other."""
    machine = Machine(600, 400, travel_speed=300, cut_speed=20, acceleration=2000)
    contours = random_contours(random.Random(5), 20)
    path = order_path(contours, machine=machine, effort=0.2)
    here, time = 0j, 0.0
    for step in path.steps:
        on, off = ends(contours[step.contour], step.start, step.backwards)
        time += move_time(abs(on - here), 300, 2000)
        time += contour_time(contours[step.contour], 20, Kinematics(2000), step.start)
        here = off
    assert path.seconds == pytest.approx(time, rel=1e-9)
    assert time < (path.given_seconds or 0)


def test_same_effort_same_path() -> None:
    """The same contours, seed and effort give the same path."""
    contours = random_contours(random.Random(8), 40)
    assert order_path(contours, effort=0.2, seed=3) == order_path(contours, effort=0.2, seed=3)


def test_start_elsewhere() -> None:
    """The path begins with what lies near the start."""
    contours = [Contour.circle(10, x=x) for x in (0, 50, 100, 150)]
    path = order_path(contours, start=(160.0, 0.0))
    assert [step.contour for step in path.steps] == [3, 2, 1, 0]


def test_cancelled() -> None:
    """A cancelled search still gives a whole path."""
    contours = random_contours(random.Random(9), 200)
    path = order_path(contours, seconds=60, cancelled=lambda: True)
    assert sorted(step.contour for step in path.steps) == list(range(200))


def test_both_limits() -> None:
    """Seconds and effort together are refused."""
    with pytest.raises(ValueError, match="either"):
        order_path([Contour.circle(1)], seconds=1, effort=1)


def test_wrong_arguments() -> None:
    """Everything wrong is named at once, with what is allowed."""
    with pytest.raises(InputError) as caught:
        order_path([Contour.circle(1), "ring"], start=(0.0, math.inf))  # type: ignore[list-item]
    assert [problem.where for problem in caught.value.problems] == ["contours[1]", "start"]
    assert all("allowed" in problem.message for problem in caught.value.problems)


def test_never_worse_than_given() -> None:
    """Without time to search, a good order that is given is not made worse."""
    spiral = [Contour.circle(1, x=r * math.cos(r), y=r * math.sin(r)) for r in range(1, 40)]
    path = order_path(spiral, start=(1.0, 0.0), cancelled=lambda: True)
    assert path.travel <= path.given_travel


def test_many_vertices() -> None:
    """A contour of many vertices is entered at the best of all of them."""
    ring = [(50 + 20 * math.cos(k / 100), 20 * math.sin(k / 100)) for k in range(628)]
    path = order_path([Contour.polyline(ring)])
    assert path.travel == pytest.approx(min(math.hypot(*point) for point in ring), rel=1e-12)


@pytest.mark.parametrize("seed", range(8))
def test_entries_and_precedence(seed: int) -> None:
    """With entries named and pairs to keep, a few contours have the least travel of all such orders."""
    chance = random.Random(seed)
    contours = [c for c in random_contours(chance, 9, 6) if c.closed][:5]
    starts = {k: chance.sample(range(len(c.vertices)), 2) for k, c in enumerate(contours)}
    before = [(2, 0), (1, 0)] if len(contours) > 2 else []
    path = order_path(contours, starts=starts, before=before, effort=0.1, prove=True)
    assert path.proven
    assert all(step.start in starts[step.contour] for step in path.steps)
    place = {step.contour: k for k, step in enumerate(path.steps)}
    assert all(place[a] < place[b] for a, b in before)
    least = min(
        travelled([ends(contours[k], start) for k, start in zip(order, choice, strict=True)])
        for order in itertools.permutations(range(len(contours)))
        if all(order.index(a) < order.index(b) for a, b in before)
        for choice in itertools.product(*(starts[k] for k in order))
    )
    assert path.travel == pytest.approx(least, rel=1e-9)


def test_wrong_entries_are_named() -> None:
    """Entries that are no vertices, and pairs that cannot be kept, are named all at once."""
    rings = [Contour.circle(5), Contour.circle(5, 20)]
    with pytest.raises(InputError) as caught:
        order_path(rings, starts={0: [2], 7: [0], 1: []}, before=[(0, 5)])
    wanted = ["starts[0]", "starts[7]", "starts[1]", "before[0]"]
    assert [problem.where for problem in caught.value.problems] == wanted
    with pytest.raises(InputError, match="circle"):
        order_path(rings, before=[(0, 1), (1, 0)])


def test_grid_proven_by_circuit() -> None:
    """Pockets with two entries each, for which trees give no proof, are proven by CP-SAT."""
    grid = [Contour.circle(66, 35 + 70 * column, 50 + 100 * row) for row in range(3) for column in range(4)]
    path = order_path(grid, effort=20, prove=True)
    assert path.proven
    strokes = make_strokes([Line(contour, 10) for contour in grid], None, 2)
    assert path_bound(strokes, (0.0, 0.0), path.travel) < 0.9 * path.travel


def test_a_slow_axis_changes_the_order() -> None:
    """Where y is slow the beam goes along x first, the longer way, in the time worked out here."""
    along = Contour.polyline([(100, 0), (100, 0.1)], closed=False)
    up = Contour.polyline([(0, 80), (0, 80.1)], closed=False)
    machine = Machine(600, 400, cut_speed=20.0, axis_speeds=(400.0, 40.0), axis_accelerations=(3000.0, 500.0))
    assert [step.contour for step in order_path([along, up]).steps] == [1, 0]
    path = order_path([along, up], machine=machine)
    assert [step.contour for step in path.steps] == [0, 1]
    # from (100, 0.1) to (0, 80): y needs longer for its 79.9 mm
    length = math.dist((100, 0.1), (0, 80))
    slanting = move_time(length, 40 * length / 79.9, 500 * length / 79.9)
    lines = 2 * move_time(0.1, 20, 500)
    assert path.seconds == pytest.approx(move_time(100, 400, 3000) + slanting + lines)
