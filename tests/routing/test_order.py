"""Ordering of contours: complete, measured rightly, and as short as trying everything."""

import math
import random

import pytest

from nesting import InputError, order_path
from nesting.geometry.contour import Contour
from nesting.job.job import Machine
from nesting.motion.profile import move_time
from nesting.motion.time import contour_time
from nesting.routing.order import PathOrder
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
        time += contour_time(contours[step.contour], 20, 2000, step.start)
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
