"""Fills swept together: the same lines are marked, and the division into sets is the fastest."""

import itertools
import math
import random

import numpy as np
import pytest
import shapely

from nesting.job.job import Machine
from nesting.motion.moves import travel_time
from nesting.motion.sweeping import sweeps_time
from nesting.routing.rows import Rows, direction, placed_sweeps, swept_together
from nesting.routing.shapes import Floats
from nesting.routing.sharing import HOP_MM, share_sweeps

MACHINE = Machine(600, 400, travel_speed=500, acceleration=4000)


def random_fills(chance: random.Random, count: int, turn: float) -> list[Floats]:
    """Make fills of a few sweeps 0.5 mm apart on one grid of lines, strewn along a row, turned together."""
    fills = []
    for _ in range(count):
        x, low = chance.uniform(0, 150), chance.randint(0, 6)
        rows = []
        for k in range(low, low + chance.randint(2, 9)):
            begin = x + chance.uniform(0, 5)
            rows.append((begin, k / 2 + 0.25, begin + chance.uniform(0.5, 30), k / 2 + 0.25))
        fills.append(placed_sweeps(rows, (12.0, 7.0, turn)))
    return fills


def seconds(sweeps: tuple[tuple[float, float, float, float], ...], speed: float) -> float:
    """Time of sweeps on the machine."""
    return sweeps_time(sweeps, speed, MACHINE.travel_speed, MACHINE.kinematics)


@pytest.mark.parametrize("seed", range(12))
def test_same_lines_marked(seed: int) -> None:
    """Swept together, fills cover just what they cover one by one, line by line to and fro."""
    chance = random.Random(seed)
    fills = random_fills(chance, chance.randint(1, 6), chance.choice([0, 90, 180, 30]))
    together = swept_together(fills)
    wanted = shapely.union_all(
        [shapely.LineString(row.reshape(2, 2)).buffer(0.01) for f in fills for row in f]
    )
    found = shapely.union_all([shapely.LineString(np.reshape(row, (2, 2))).buffer(0.01) for row in together])
    assert found.symmetric_difference(wanted).area < 1e-4 * wanted.area
    c, s = direction(np.vstack(fills))
    heights = [round(y0 * c - x0 * s, 3) for x0, y0, _, _ in together]
    ways = [(x1 - x0) * c + (y1 - y0) * s > 0 for x0, y0, x1, y1 in together]
    pairs = itertools.groupby(zip(heights, ways, strict=True), key=lambda pair: pair[0])
    lines = [(height, {way for _, way in group}) for height, group in pairs]
    assert [h for h, _ in lines] == sorted(h for h, _ in lines)
    assert [way for _, way in lines] == [{k % 2 == 0} for k in range(len(lines))]


@pytest.mark.parametrize("seed", range(12))
def test_best_division(seed: int) -> None:
    """No division of a row into neighbours takes less time: all of them are tried, timed sweep by sweep."""
    chance = random.Random(seed)
    fills = sorted(random_fills(chance, 6, 0), key=lambda f: float(f[:, [0, 2]].min()))
    fills[0] = placed_sweeps([(0, k / 2 + 0.25, 9, k / 2 + 0.25) for k in range(20)], (12.0, 7.0, 0.0))
    speed = chance.uniform(100, 500)
    sets, time, _ = share_sweeps([Rows.of(fill) for fill in fills], speed, MACHINE)
    hop = float(travel_time(HOP_MM, MACHINE.travel_speed, MACHINE.acceleration))

    def cost(cuts: tuple[int, ...]) -> float:
        bounds = [0, *cuts, len(fills)]
        return math.fsum(
            seconds(swept_together(fills[a:b]), speed) + hop for a, b in itertools.pairwise(bounds)
        )

    best = min(cost(cuts) for n in range(6) for cuts in itertools.combinations(range(1, 6), n))
    assert time == pytest.approx(best, rel=1e-9)
    found = math.fsum(seconds(swept_together([fills[k] for k in members]), speed) + hop for members in sets)
    assert found == pytest.approx(best, rel=1e-9)


def test_shared_only_across_short_gaps() -> None:
    """Two fills share their sweeps where crossing the gap is quicker than turning round, and not beyond."""
    bar = [(0, k / 10 + 0.05, 20, k / 10 + 0.05) for k in range(100)]
    speed = 200.0
    # turning round takes 2 v / a, in which the beam crosses 2 v² / a
    even = 2 * speed**2 / MACHINE.acceleration

    def sets(gap: float) -> int:
        fills = [placed_sweeps(bar, (0, 0, 0)), placed_sweeps(bar, (20 + gap, 0, 0))]
        return len(share_sweeps([Rows.of(fill) for fill in fills], speed, MACHINE)[0])

    assert (sets(even - 1), sets(even + 2)) == (1, 2)


def test_other_grids_stay_apart() -> None:
    """Fills whose lines do not meet, or run another way, are not swept together."""
    bar = [(0, k / 10, 20, k / 10) for k in range(100)]
    places = [(0, 0, 0), (25, 0.03, 0), (90, 0, 90)]
    fills = [Rows.of(placed_sweeps(bar, place)) for place in places]
    assert share_sweeps(fills, 300, MACHINE)[0] == [(0,), (1,), (2,)]
    assert Rows.of(np.array([[0, 0, 5, 0]])) is None
