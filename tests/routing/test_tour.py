"""Closed tours: valid, reproducible, and near the proven optima of a published set."""

import json
import random
from typing import Any

import numpy as np
import pytest

from nesting.packing.stop import Stop
from nesting.routing.shapes import Floats
from nesting.routing.tour import improve_tour, tour_length
from tests.data_folder import data_folder

BARS = [
    (("eil51", "st70", "kroA100", "ch150", "a280"), 2.0, 0.01),
    (("rd400", "pcb442"), 5.0, 0.02),
    (("pr1002",), 10.0, 0.04),
]
"""Instances, effort, and how far above the optimum they may be on average."""


def distances_of(points: Floats) -> Floats:
    """Distances rounded to whole numbers, as the data set's EUC_2D says (Reinelt, TSPLIB 95)."""
    gaps = points[:, None] - points
    return np.floor(np.hypot(gaps[..., 0], gaps[..., 1]) + 0.5)


def instance(name: str) -> tuple[Floats, int]:
    """Read points and optimal length of a published instance."""
    folder = data_folder()
    if folder is None:
        pytest.skip("the open benchmark data are not here")
    rows: list[dict[str, Any]] = json.loads((folder / "tsp.json").read_text())["instances"]
    row = next(row for row in rows if row["name"] == name)
    return np.array(row["points"], dtype=float), row["optimal_tour"]


def excess(name: str, effort: float) -> float:
    """Improve a random tour of an instance; give its excess over the optimum, counted leg by leg."""
    points, optimum = instance(name)
    tour = random.Random(1).sample(range(len(points)), len(points))
    best = improve_tour(distances_of(points), tour, Stop(effort=effort), 1)
    assert sorted(best) == list(range(len(points)))
    length = 0
    for a, b in zip(best, best[1:] + best[:1], strict=True):
        x, y = points[a] - points[b]
        length += int((x * x + y * y) ** 0.5 + 0.5)
    assert length >= optimum
    return length / optimum - 1


def test_small_instances() -> None:
    """With little effort two small published instances come within 1 % of their optima (Reinelt 1991)."""
    assert excess("eil51", 0.5) <= 0.01
    assert excess("kroA100", 0.5) <= 0.01


@pytest.mark.slow
@pytest.mark.parametrize(("names", "effort", "bar"), BARS)
def test_published_instances(names: tuple[str, ...], effort: float, bar: float) -> None:
    """Published instances come near their optima (Reinelt 1991) with the effort of a few seconds."""
    assert sum(excess(name, effort) for name in names) / len(names) <= bar


@pytest.mark.parametrize("count", [1, 2, 3, 4, 5, 7, 8, 9, 12])
def test_few_points(count: int) -> None:
    """Tours of few points stay tours and do not get longer."""
    points = np.array(random.Random(count).sample([(x, y) for x in range(9) for y in range(9)], count), float)
    distances = distances_of(points)
    best = improve_tour(distances, list(range(count)), Stop(effort=0.01), 1)
    assert sorted(best) == list(range(count))
    assert tour_length(distances, best) <= tour_length(distances, list(range(count)))


def test_same_effort_same_tour() -> None:
    """The same seed and effort give the same tour, and another seed starts another search."""
    points = np.random.default_rng(5).uniform(0, 100, (120, 2))
    distances = distances_of(points)
    tours = [improve_tour(distances, list(range(120)), Stop(effort=0.05), seed) for seed in (1, 1, 2)]
    assert tours[0] == tours[1] != tours[2]


def test_joined_pairs() -> None:
    """Points that are joined at first stay neighbours."""
    distances = distances_of(np.random.default_rng(6).uniform(0, 100, (60, 2)))
    for k in range(0, 60, 2):
        distances[k, k + 1] = distances[k + 1, k] = -1e6
    best = improve_tour(distances, list(range(60)), Stop(effort=0.1), 1)
    pairs = {frozenset(pair) for pair in zip(best, best[1:] + best[:1], strict=True)}
    assert all(frozenset((k, k + 1)) in pairs for k in range(0, 60, 2))
