"""The engines behind path ordering, each against a plain answer."""

import random

import numpy as np
import pytest

from nesting.geometry.contour import Contour
from nesting.packing.stop import Stop
from nesting.routing.choose import choose_ways
from nesting.routing.exact import best_ways
from nesting.routing.legs import Legs, closure
from nesting.routing.nearest import nearest_ways
from nesting.routing.rebuild import rebuild
from nesting.routing.search import Task, find_ways
from nesting.routing.shapes import Line
from nesting.routing.straighten import straighten
from nesting.routing.strokes import Strokes, make_strokes
from tests.routing.paths import best_for_order, best_of_all, random_contours

START = (0.0, 0.0)


def strokes_of(contours: list[Contour]) -> Strokes:
    """All ways of contours, costs in mm."""
    return make_strokes([Line(contour, 10.0) for contour in contours], None, 99)


@pytest.mark.parametrize("seed", range(20))
def test_choice_for_an_order(seed: int) -> None:
    """For a given order the choice of ways is as good as the best of all combinations."""
    chance = random.Random(seed)
    contours = random_contours(chance, chance.randint(1, 7))
    order = chance.sample(range(len(contours)), len(contours))
    strokes = strokes_of(contours)
    ways = choose_ways(strokes, np.array(order), START)
    assert strokes.owner[ways].tolist() == order
    expected = best_for_order([contours[k] for k in order])
    assert strokes.total(ways, START) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("seed", range(15))
def test_never_below_the_best(seed: int) -> None:
    """Searching finds no path below the best of all, and on small sets comes within 2 % of it."""
    chance = random.Random(seed)
    contours = random_contours(chance, chance.randint(4, 6))
    pairs = [(a, b) for a in range(3) for b in range(a + 1, 3) if seed % 2]
    strokes = strokes_of(contours)
    legs = Legs.of(strokes, START, None, pairs)
    first = nearest_ways(strokes, START, closure(len(contours), pairs))
    found = rebuild(legs, first, Stop(effort=0.2), seed)
    least = best_of_all(contours, pairs)
    assert sorted(strokes.owner[found].tolist()) == list(range(len(contours)))
    assert least * (1 - 1e-9) <= legs.total(found) <= least * 1.02
    assert legs.total(best_ways(legs)) == pytest.approx(least, rel=1e-9)
    assert strokes.total(found, START) == pytest.approx(legs.total(found), rel=1e-9)


@pytest.mark.parametrize("seed", range(10))
def test_straighten(seed: int) -> None:
    """Straightening keeps the strokes, does not lengthen the path, and turns open ones round as one piece."""
    chance = random.Random(seed)
    contours = random_contours(chance, 30, corners=2 + seed % 3)
    strokes = strokes_of(contours)
    end = (100.0, 80.0) if seed % 2 else None
    first = np.array([chance.choice(strokes.ways(k)) for k in range(30)])
    better = straighten(strokes, first, START, end, Stop(effort=0.05), seed)
    assert sorted(strokes.owner[better].tolist()) == list(range(30))
    assert strokes.total(better, START, end) < strokes.total(first, START, end) * 0.7
    closed = {k for k in range(30) if contours[k].closed}
    kept = {int(way) for way in first if int(strokes.owner[way]) in closed}
    assert kept == {int(way) for way in better if int(strokes.owner[way]) in closed}


def test_a_given_first_path() -> None:
    """A path to begin with is used if it is better than going to the nearest, and never made worse."""
    contours = random_contours(random.Random(4), 40)
    strokes = strokes_of(contours)
    good = find_ways(Task(strokes, START), Stop(effort=1.0), 1).ways
    again = find_ways(Task(strokes, START), Stop(effort=0.001), 2, good).ways
    assert strokes.total(again, START) <= strokes.total(good, START) + 1e-9


@pytest.mark.parametrize("count", [160, 400])
def test_precedence_in_pieces(count: int) -> None:
    """What must come earlier does, also where a large set is searched piece by piece."""
    chance = random.Random(count)
    contours = random_contours(chance, count)
    order = chance.sample(range(count), count)
    places = [sorted(chance.sample(range(count), 2)) for _ in range(count)]
    pairs = tuple((order[a], order[b]) for a, b in places)
    strokes = strokes_of(contours)
    ways = find_ways(Task(strokes, START, before=pairs), Stop(effort=0.5), 1).ways
    place = {stroke: k for k, stroke in enumerate(strokes.owner[ways].tolist())}
    assert len(place) == count
    assert all(place[a] < place[b] for a, b in pairs)
