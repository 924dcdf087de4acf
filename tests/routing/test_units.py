"""Routes unit by unit: complete, one unit after the other, and good to begin a search with."""

import random
from itertools import pairwise

import numpy as np

from nesting.geometry.contour import Contour
from nesting.job.job import Machine
from nesting.packing.stop import Stop
from nesting.routing.nearest import nearest_ways
from nesting.routing.shapes import Line, Shape, measure
from nesting.routing.strokes import make_strokes
from nesting.routing.units import UnitShapes, route_by_units
from tests.routing.paths import random_contours

MACHINE = Machine(600, 400)
START = (0.0, 0.0)


def bed_of_units(count: int) -> list[UnitShapes]:
    """Units of two kinds in a grid, every other row turned by half a turn."""
    chance = random.Random(count)
    kinds = {name: [c.scaled(0.1) for c in random_contours(chance, 6)] for name in ("one", "two")}
    units = []
    for k in range(count):
        turned = k // 6 % 2
        place = (30.0 * (k % 6 + turned), 22.0 * (k // 6 + turned), 180.0 * turned)
        kind = chance.choice(["one", "two"])
        units.append(UnitShapes(kind, tuple(Line(contour, 100, place=place) for contour in kinds[kind])))
    return units


def test_complete_and_one_after_the_other() -> None:
    """Every shape of every unit is run once, and no unit is left before it is done."""
    units = bed_of_units(24)
    runs = route_by_units(units, MACHINE, START, Stop(effort=0.2), 1)
    assert sorted(run.shape for run in runs) == list(range(24 * 6))
    visited = [run.shape // 6 for run in runs]
    changes = sum(a != b for a, b in pairwise(visited))
    assert changes == 23


def test_shorter_than_going_to_the_nearest() -> None:
    """On a bed of many like units the route takes less time than going to the nearest shape each time."""
    units = bed_of_units(48)
    shapes: list[Shape] = [shape for unit in units for shape in unit.shapes]
    runs = route_by_units(units, MACHINE, START, Stop(effort=1.0), 1)
    strokes = make_strokes(shapes, MACHINE, 8)
    ways = nearest_ways(strokes, START, tuple(frozenset[int]() for _ in shapes))
    nearest = strokes.moves(ways, START)
    assert measure(shapes, runs, START, MACHINE).travel < float(np.hypot(*nearest.T).sum())


def test_one_kind_in_two_places() -> None:
    """Two units in a row are each run from their own place."""
    dots = tuple(Contour.circle(0.1, x=x, y=5) for x in (2, 6))
    units = [
        UnitShapes("dots", tuple(Line(dot, 100, place=(x, 0.0, 0.0)) for dot in dots)) for x in (50.0, 0.0)
    ]
    runs = route_by_units(units, MACHINE, START, Stop(effort=0.1), 1)
    assert [run.shape for run in runs] == [2, 3, 0, 1]
