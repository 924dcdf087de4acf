"""The proof by CP-SAT against dynamic programming over subsets."""

import random

import numpy as np
import pytest

from nesting.job.job import Machine
from nesting.packing.stop import Stop
from nesting.routing.circuit import prove
from nesting.routing.exact import best_ways
from nesting.routing.legs import Legs
from nesting.routing.shapes import Line
from nesting.routing.strokes import make_strokes
from tests.routing.paths import random_contours


@pytest.mark.parametrize("seed", range(10))
def test_as_dynamic_programming(seed: int) -> None:
    """The bound is the least cost of all orders, with and without an end, precedence and a machine."""
    chance = random.Random(seed)
    contours = random_contours(chance, chance.randint(2, 7))
    machine = Machine(600, 400) if seed % 2 else None
    strokes = make_strokes([Line(contour, 10) for contour in contours], machine, 3)
    before = [(1, 0)] if seed % 3 == 0 else []
    legs = Legs.of(strokes, (0, 0), (200.0, 150.0) if seed % 4 < 2 else None, before)
    least = legs.total(best_ways(legs))
    # a poor path to begin with: strokes in order, but for the pair, each by its first way
    order = np.array([1, 0, *range(2, strokes.count)])
    proof = prove(legs, strokes.first[order], Stop(effort=20), 1)
    assert proof.bound == pytest.approx(least, rel=1e-4)
    assert proof.bound <= least * (1 + 1e-9)
    found = strokes.first[order] if proof.ways is None else proof.ways
    assert legs.total(found) == pytest.approx(least, rel=1e-4)
