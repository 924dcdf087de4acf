"""Improve a path by taking strokes out near one another and putting them back where they cost least.

After Christiaens and Vanden Berghe, "Slack induction by string removals", Transportation Science 54
(2020): short runs of neighbouring paths are removed, put back in random order, and the result is
accepted as in simulated annealing. Putting back tries every way to run the stroke at every place
that precedence allows, so order and ways are searched together.
"""

import math
import random
from itertools import pairwise
from operator import add

import numpy as np

from nesting.packing.stop import Stop
from nesting.routing.legs import Legs
from nesting.routing.strokes import Ints

LONGEST_RUN = 8
MOST_RUNS = 3
NEIGHBOURS = 12
COLD = 0.003
"""Share of the first heat that is left at the end."""

BLINK = 0.03
"""Share of the places overlooked."""

EFFORT_PER_INSERTION = 1.2e-5
"""Measured: seconds to put one stroke back on a desktop computer."""


def rebuild(legs: Legs, ways: Ints, stop: Stop, seed: int, heat: float = 1.0) -> Ints:
    """Improve a path until `stop` is reached.

    Parameters
    ----------
    ways
        A path that keeps to `legs.before`: a way for each stroke, in running order.
    heat
        How much worse a path is accepted at first, in mean costs of a leg of the path given.

    Returns
    -------
    The best path found, never worse than the one given.
    """
    if len(ways) < 3:
        return ways
    search = _Search(legs, ways, random.Random(seed))
    budget, warm, best = stop.left, heat * legs.total(ways) / len(ways), search.state()
    while (left := stop.left) > 0:
        for _ in range(10):
            before = search.state()
            stop.spend(EFFORT_PER_INSERTION * search.rebuild())
            allowed = -warm * COLD ** (1 - left / budget) * math.log(1 - search.random.random())
            if search.cost < best[0] - 1e-9:
                best = search.state()
            elif search.cost > before[0] + allowed:
                search.restore(before)
    return search.ways(best)


_State = tuple[float, list[int], list[int], list[int]]


class _Search:
    """A path as a chain of strokes with the way of each; the start and the end are its last two links."""

    def __init__(self, legs: Legs, ways: Ints, chance: random.Random) -> None:
        strokes, self.random = legs.strokes, chance
        self.rows: list[list[float]] = legs.costs.tolist()
        self.near = _neighbours(legs)
        self.columns: list[list[float]] = legs.costs.T.tolist()
        self.arrive, self.depart = _least_legs(legs)
        self.spans = [(ways.start, ways.stop) for ways in map(strokes.ways, range(strokes.count))]
        self.before = [*legs.before, frozenset(), frozenset()]
        self.after = _followers(legs.before)
        self.bound = any(legs.before)
        self.first, self.last = strokes.count, strokes.count + 1
        self.way = [0] * strokes.count + [legs.start, legs.end]
        self.onward, self.back = [0] * (strokes.count + 2), [0] * (strokes.count + 2)
        self.rank = [0.0] * (strokes.count + 2)
        self.cost = legs.total(ways)
        self.lay(strokes.owner[ways].tolist(), ways.tolist())

    def lay(self, order: list[int], ways: list[int]) -> None:
        """Make the chain from a path."""
        for left, right in pairwise([self.first, *order, self.last]):
            self.onward[left], self.back[right] = right, left
        for stroke, way in zip(order, ways, strict=True):
            self.way[stroke] = way

    def state(self) -> _State:
        return self.cost, self.way[:], self.onward[:], self.back[:]

    def restore(self, state: _State) -> None:
        self.cost, self.way, self.onward, self.back = state

    def ways(self, state: _State) -> Ints:
        """Read a path off a state."""
        _, way, onward, _ = state
        path, stroke = [], onward[self.first]
        while stroke != self.last:
            path.append(way[stroke])
            stroke = onward[stroke]
        return np.array(path)

    def rebuild(self) -> int:
        """Take strokes out and put them back; give their number."""
        removed = self.taken_out()
        self.random.shuffle(removed)
        out = set(removed)
        if self.bound:
            self.rank_all()
        for stroke in removed:
            self.put_back(stroke, out)
            out.discard(stroke)
        return len(removed)

    def taken_out(self) -> list[int]:
        """Remove a few runs of strokes round a random one."""
        count, pick = len(self.spans), self.random.randrange
        removed: list[int] = []
        runs = 1 + pick(MOST_RUNS)
        for near in self.near[pick(count)]:
            if near not in removed:
                length = 1 + pick(min(LONGEST_RUN, max(count // 3, 1)))
                removed += self.run_cut(near, pick(length), length)
                runs -= 1
                if runs == 0:
                    break
        return removed

    def run_cut(self, stroke: int, earlier: int, length: int) -> list[int]:
        """Remove a run of strokes that begins some strokes earlier in the chain."""
        while earlier and self.back[stroke] != self.first:
            stroke, earlier = self.back[stroke], earlier - 1
        run: list[int] = []
        while len(run) < length and stroke != self.last:
            run.append(stroke)
            stroke = self.cut(stroke)
        return run

    def cut(self, stroke: int) -> int:
        """Remove a stroke; give the one after it."""
        left, right = self.back[stroke], self.onward[stroke]
        self.onward[left], self.back[right] = right, left
        u, w, v = self.way[left], self.way[stroke], self.way[right]
        self.cost -= self.rows[u][w] + self.rows[w][v] - self.rows[u][v]
        return right

    def put_back(self, stroke: int, out: set[int]) -> None:
        """Insert a stroke where and how it costs least, of the places beside its neighbours."""
        rows, columns, way, onward = self.rows, self.columns, self.way, self.onward
        arrive, depart = self.arrive[stroke], self.depart[stroke]
        first, stop = self.spans[stroke]
        hopes = []
        for left in self.places(stroke, out):
            u, v = way[left], way[onward[left]]
            hopes.append((arrive[u] + depart[v] - rows[u][v], left, u, v))
        hopes.sort()
        place, least = hopes[-1][1], math.inf
        for hope, left, u, v in hopes:
            if hope >= least:
                break
            if self.random.random() < BLINK:
                continue
            added = min(map(add, rows[u][first:stop], columns[v][first:stop])) - rows[u][v]
            if added < least:
                least, place = added, left
        self.insert(stroke, place)

    def insert(self, stroke: int, place: int) -> None:
        """Put a stroke behind another, the cheapest way round."""
        right = self.onward[place]
        u, v = self.way[place], self.way[right]
        first, stop = self.spans[stroke]
        costs = list(map(add, self.rows[u][first:stop], self.columns[v][first:stop]))
        least = min(costs)
        self.cost += least - self.rows[u][v]
        self.way[stroke] = first + costs.index(least)
        self.onward[place], self.back[stroke] = stroke, place
        self.onward[stroke], self.back[right] = right, stroke
        self.rank[stroke] = (self.rank[place] + self.rank[right]) / 2

    def places(self, stroke: int, out: set[int]) -> set[int]:
        """Give the strokes after which the stroke may go: those beside its neighbours."""
        back, near = self.back, [k for k in self.near[stroke] if k not in out]
        low, high = self.first, self.last
        if not self.bound:
            return {low, back[high], *near, *(back[k] for k in near)}
        rank = self.rank
        low = max((s for s in self.before[stroke] if s not in out), key=rank.__getitem__, default=low)
        high = min((s for s in self.after[stroke] if s not in out), key=rank.__getitem__, default=high)
        behind = [k for k in near if rank[low] <= rank[k] < rank[high]]
        ahead = [back[k] for k in near if rank[low] < rank[k] <= rank[high]]
        return {low, back[high], *behind, *ahead}

    def rank_all(self) -> None:
        """Give each stroke its place in the chain, so that places can be compared."""
        stroke, rank = self.first, 0.0
        while stroke != self.last:
            self.rank[stroke] = rank
            stroke, rank = self.onward[stroke], rank + 1
        self.rank[stroke] = rank


def _followers(before: tuple[frozenset[int], ...]) -> list[set[int]]:
    after: list[set[int]] = [set() for _ in before]
    for stroke, earlier in enumerate(before):
        for first in earlier:
            after[first].add(stroke)
    return after


def _least_legs(legs: Legs) -> tuple[list[list[float]], list[list[float]]]:
    """For each stroke the least cost of arriving from each way, and of going on to each way."""
    size, first = len(legs.strokes.owner), legs.strokes.first[:-1]
    arrive: list[list[float]] = np.minimum.reduceat(legs.costs[:, :size], first, axis=1).T.tolist()
    depart: list[list[float]] = np.minimum.reduceat(legs.costs[:size], first, axis=0).tolist()
    return arrive, depart


def _neighbours(legs: Legs) -> list[list[int]]:
    """For each stroke the nearest ones, itself first."""
    size, first = len(legs.strokes.owner), legs.strokes.first[:-1]
    closest = np.minimum.reduceat(np.minimum.reduceat(legs.costs[:size, :size], first, axis=0), first, axis=1)
    closest = np.minimum(closest, closest.T)
    np.fill_diagonal(closest, -1.0)
    near: list[list[int]] = np.argsort(closest, axis=1, kind="stable")[:, : NEIGHBOURS + 1].tolist()
    return near
