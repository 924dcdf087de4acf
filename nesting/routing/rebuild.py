"""Improve a path by taking strokes out near one another and putting them back where they cost least.

After Christiaens and Vanden Berghe, "Slack induction by string removals", Transportation Science 54
(2020): short runs of neighbouring paths are removed, put back in random order, and the result is
accepted as in simulated annealing. Putting back tries every way to run the stroke at every place
that precedence allows, so order and ways are searched together.
"""

import math
import random
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from nesting.packing.stop import Stop
from nesting.routing.legs import Legs
from nesting.routing.shapes import Floats
from nesting.routing.strokes import Ints

LONGEST_RUN = 8
MOST_RUNS = 3
EFFORT_PER_INSERTION = 3e-5
"""Measured: seconds to put one stroke back on a desktop computer."""


def rebuild(legs: Legs, ways: Ints, stop: Stop, seed: int) -> Ints:
    """Improve a path until `stop` is reached.

    Parameters
    ----------
    ways
        A path that keeps to `legs.before`: a way for each stroke, in running order.

    Returns
    -------
    The best path found, never worse than the one given.
    """
    if legs.strokes.count < 3:
        return ways
    return _Search(legs, random.Random(seed)).run(ways, stop)


@dataclass
class _Search:
    legs: Legs
    random: random.Random
    into: list[Floats] = field(init=False)
    out: list[Floats] = field(init=False)
    near: list[list[int]] = field(init=False)
    after: list[frozenset[int]] = field(init=False)
    owner: list[int] = field(init=False)

    def __post_init__(self) -> None:
        strokes, costs = self.legs.strokes, self.legs.costs
        spans = [slice(ways.start, ways.stop) for ways in map(strokes.ways, range(strokes.count))]
        self.into = [np.ascontiguousarray(costs[:, span]) for span in spans]
        self.out = [np.ascontiguousarray(costs[span].T) for span in spans]
        self.near = _neighbours(self.legs)
        self.after = [
            frozenset(s for s in range(strokes.count) if stroke in self.legs.before[s])
            for stroke in range(strokes.count)
        ]
        self.owner = [*strokes.owner.tolist(), -1, -1]

    def run(self, ways: Ints, stop: Stop) -> Ints:
        budget, warm = stop.left, self.legs.total(ways) / len(ways)
        now = [self.legs.start, *ways.tolist(), self.legs.end]
        best, cost = now, self.legs.total(ways)
        least = cost
        while (left := stop.left) > 0:
            heat = 0.3 * warm * 0.003 ** (1 - left / budget)
            tried, removed = self.removed(now)
            for stroke in self.shuffled(removed):
                self.put_back(tried, stroke)
            stop.spend(EFFORT_PER_INSERTION * len(removed))
            new = self.cost(tried)
            if new < cost - heat * math.log(1 - self.random.random()):
                now, cost = tried, new
                if cost < least - 1e-9:
                    best, least = now, cost
        return np.array(best[1:-1])

    def cost(self, path: Sequence[int]) -> float:
        stops = np.array(path)
        return float(self.legs.costs[stops[:-1], stops[1:]].sum())

    def removed(self, path: list[int]) -> tuple[list[int], list[int]]:
        """Take a few runs of strokes out round a random one."""
        owners = [self.owner[way] for way in path]
        longest = min(LONGEST_RUN, max(len(path) // 3, 1))
        gone: set[int] = set()
        runs = self.random.randint(1, MOST_RUNS)
        for stroke in self.near[self.random.randrange(len(self.near))]:
            if stroke in gone:
                continue
            length = self.random.randint(1, longest)
            first = owners.index(stroke) - self.random.randrange(length)
            gone.update(owners[max(first, 1) : min(first + length, len(path) - 1)])
            runs -= 1
            if runs == 0:
                break
        return [way for way, owner in zip(path, owners, strict=True) if owner not in gone], sorted(gone)

    def shuffled(self, strokes: list[int]) -> list[int]:
        self.random.shuffle(strokes)
        return strokes

    def put_back(self, path: list[int], stroke: int) -> None:
        """Insert a stroke where and how it costs least; now and then at the next best place."""
        stops = np.array(path)
        low, high = self.room(path, stroke)
        stops = stops[low : high + 1]
        added = self.into[stroke][stops[:-1]] + self.out[stroke][stops[1:]]
        added -= self.legs.costs[stops[:-1], stops[1:]][:, None]
        place, way = divmod(int(added.argmin()), added.shape[1])
        if self.random.random() < 0.03 and len(added) > 1:
            added[place] = np.inf
            place, way = divmod(int(added.argmin()), added.shape[1])
        path.insert(low + place + 1, int(self.legs.strokes.first[stroke]) + way)

    def room(self, path: list[int], stroke: int) -> tuple[int, int]:
        """First and last index between which the stroke may go."""
        low, high = 0, len(path) - 1
        if self.legs.before[stroke] or self.after[stroke]:
            for k, way in enumerate(path):
                if self.owner[way] in self.legs.before[stroke]:
                    low = k
                elif self.owner[way] in self.after[stroke]:
                    high = min(high, k)
        return low, high


def _neighbours(legs: Legs) -> list[list[int]]:
    """For each stroke the nearest ones, itself first."""
    size, first = len(legs.strokes.owner), legs.strokes.first[:-1]
    closest = np.minimum.reduceat(np.minimum.reduceat(legs.costs[:size, :size], first, axis=0), first, axis=1)
    np.fill_diagonal(closest, -1.0)
    reach = min(4 * MOST_RUNS + 1, legs.strokes.count)
    near: list[list[int]] = np.argsort(closest, axis=1, kind="stable")[:, :reach].tolist()
    return near
