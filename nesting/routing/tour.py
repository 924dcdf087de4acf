"""A short closed tour through points whose distances are the same both ways.

Local search with neighbour lists and a queue of points still to be looked at (the don't-look bits of
Bentley, "Fast algorithms for geometric traveling salesman problems", 1992): 2-opt moves, and or-opt
moves of up to three points (Or, 1976). Then, over and over, two neighbouring stretches of the tour are
exchanged, the double bridge kept local (Johnson and McGeoch, "The traveling salesman problem: a case
study in local optimization", 1997), the search settles again, and what did not help is undone.

Words used below: in the tour ``f a .. e q`` a stretch a to e lies between f and q.
"""

import random

import numpy as np

from nesting.packing.stop import Stop
from nesting.routing.shapes import Floats

NEIGHBOURS = 8
LONGEST_STRETCH = 50
EFFORT_PER_LOOK = 1e-5
"""Measured: seconds to look at one point on a desktop computer."""

EPS = 1e-9

Tour = list[int]


def improve_tour(distances: Floats, tour: Tour, stop: Stop, seed: int) -> Tour:
    """Shorten a closed tour until `stop` is reached.

    Parameters
    ----------
    distances
        Symmetric, shape (n, n). A pair with a negative one stays joined if the tour joins it.
    tour
        Every point once.

    Returns
    -------
    The best tour found, from any of its points, never longer than the one given.

    Examples
    --------
    >>> corners = np.array([[0, 0], [9, 9], [9, 0], [0, 9]])
    >>> distances = np.hypot(*(corners[:, None] - corners).transpose(2, 0, 1))
    >>> best = improve_tour(distances, [0, 1, 2, 3], Stop(effort=0.1), 1)
    >>> round(tour_length(distances, best), 9)
    36.0
    """
    if len(tour) < 4:
        return list(tour)
    search = _TourSearch(distances, tour, seed)
    search.settle(list(tour))
    while not stop.reached and len(tour) > 7:
        looks = search.looks
        for _ in range(16):
            search.kick()
        stop.spend(EFFORT_PER_LOOK * (search.looks - looks))
    return search.tour


def tour_length(distances: Floats, tour: Tour) -> float:
    """Length of a closed tour."""
    return float(distances[tour, np.roll(tour, -1)].sum())


class _TourSearch:
    """A tour as an array of points with the place of each, and the moves that shorten it."""

    def __init__(self, distances: Floats, tour: Tour, seed: int) -> None:
        self.rows: list[list[float]] = distances.tolist()
        self.near = _neighbours(distances)
        self.tour = list(tour)
        self.place = [0] * len(tour)
        self.put(0, tour)
        self.flips: list[tuple[int, int]] = []
        self.random = random.Random(seed).random
        self.looks = 0

    def put(self, first: int, points: Tour) -> None:
        """Lay points into the tour from a place on."""
        self.tour[first : first + len(points)] = points
        place = self.place
        for k, point in enumerate(points, first):
            place[point] = k

    def settle(self, queue: list[int]) -> float:
        """Improve round the points of a queue until nothing there helps; give the length saved."""
        waiting = set(queue)
        saved = 0.0
        while queue:
            point = queue.pop()
            waiting.discard(point)
            self.looks += 1
            while gain := self.shorten(point) or self.relocate(point):
                saved += gain[0]
                for touched in gain[1]:
                    if touched not in waiting:
                        waiting.add(touched)
                        queue.append(touched)
        return saved

    def shorten(self, a: int) -> tuple[float, Tour] | None:
        """Make the first 2-opt move found that joins `a` to a nearer neighbour."""
        tour, place, rows = self.tour, self.place, self.rows
        size, row, i = len(tour), rows[a], place[a]
        after, before = tour[i + 1 - size], tour[i - 1]
        to_after, to_before = row[after], row[before]
        for c in self.near[a]:
            ahead, back = to_after - row[c], to_before - row[c]
            if ahead <= EPS and back <= EPS:
                return None
            if ahead > EPS:
                d = tour[place[c] + 1 - size]
                gain = ahead + rows[c][d] - rows[after][d]
                if gain > EPS:
                    self.exchange(a, after, c, d)
                    return gain, [a, after, c, d]
            if back > EPS:
                d = tour[place[c] - 1]
                gain = back + rows[c][d] - rows[before][d]
                if gain > EPS:
                    self.exchange(a, before, c, d)
                    return gain, [a, before, c, d]
        return None

    def relocate(self, a: int) -> tuple[float, Tour] | None:
        """Make the first or-opt move found: a stretch of three points at most that begins with `a`."""
        tour, rows, size, i = self.tour, self.rows, len(self.tour), self.place[a]
        row = rows[a]
        for step in (1, -1):
            f = tour[(i - step) % size]
            for length in range(1, min(4, size - 2)):
                e, q = tour[(i + step * (length - 1)) % size], tour[(i + step * length) % size]
                gain = row[f] + rows[e][q] - rows[f][q]
                if gain > EPS and (target := self.target(a, e, step, length, gain)):
                    saved, c, x = target
                    self.move(f, a, e, q, c, x)
                    return saved, [f, a, e, q, c, x]
        return None

    def target(self, a: int, e: int, step: int, length: int, gain: float) -> tuple[float, int, int] | None:
        """Find neighbours c and x, outside the stretch, for it to go between: c beside `a`, x beside `e`."""
        tour, place, rows = self.tour, self.place, self.rows
        size, row, row_e, i = len(tour), rows[a], rows[e], place[a]
        for c in self.near[a]:
            left = gain - row[c]
            if left <= EPS:
                return None
            j = place[c]
            if (j - i) * step % size < length:
                continue
            for x in (tour[j + 1 - size], tour[j - 1]):
                saved = left - row_e[x] + rows[c][x]
                if saved > EPS and (place[x] - i) * step % size >= length:
                    return saved, c, x
        return None

    def move(self, f: int, a: int, e: int, q: int, c: int, x: int) -> None:
        """Turn ``f a..e q`` and ``c x`` into ``f q`` and ``c a..e x`` by two exchanges or three."""
        size = len(self.tour)
        same_way = self.tour[self.place[f] + 1 - size] == a
        if (self.tour[self.place[c] + 1 - size] == x) == same_way:
            self.exchange(f, a, c, x)
            self.exchange(f, c, q, e)
            self.exchange(c, e, a, x)
        else:
            self.exchange(f, a, x, c)
            self.exchange(f, x, q, e)

    def exchange(self, a: int, b: int, c: int, d: int) -> None:
        """Replace the legs a-b and c-d by a-c and b-d; b lies on the same side of a as d of c."""
        if self.tour[self.place[a] + 1 - len(self.tour)] == b:
            self.flip(self.place[b], self.place[c])
        else:
            self.flip(self.place[a], self.place[d])

    def flip(self, first: int, last: int) -> None:
        """Reverse the places from first to last, or all the others if they are fewer."""
        size = len(self.tour)
        if 2 * ((last - first) % size + 1) > size:
            first, last = (last + 1) % size, (first - 1) % size
        self.flips.append((first, last))
        if first <= last:
            self.put(first, self.tour[first : last + 1][::-1])
            return
        stretch = (self.tour[first:] + self.tour[: last + 1])[::-1]
        self.put(first, stretch[: size - first])
        self.put(0, stretch[size - first :])

    def kick(self) -> None:
        """Exchange two stretches that follow one another, settle, and undo it all if that did not help."""
        size, longest = len(self.tour), min(LONGEST_STRETCH, (len(self.tour) - 2) // 3)
        one, two = 1 + int(self.random() * longest), 1 + int(self.random() * longest)
        first = 1 + int(self.random() * (size - one - two - 1))
        kept = self.tour[first : first + one + two]
        ends = [
            self.tour[first - 1],
            kept[0],
            kept[one - 1],
            kept[one],
            kept[-1],
            self.tour[first + one + two],
        ]
        added = self.lengthening(*ends)
        if added is None:
            return
        self.put(first, kept[one:] + kept[:one])
        self.flips.clear()
        if self.settle(ends) < added - EPS:
            for flip in self.flips[::-1]:
                self.flip(*flip)
            self.put(first, kept)

    def lengthening(self, f: int, a: int, b: int, c: int, d: int, q: int) -> float | None:
        """Length added by turning ``f a..b c..d q`` into ``f c..d a..b q``; None if that parts a pair."""
        rows = self.rows
        if min(rows[f][a], rows[b][c], rows[d][q]) < 0:
            return None
        return rows[f][c] + rows[d][a] + rows[b][q] - rows[f][a] - rows[b][c] - rows[d][q]


def _neighbours(distances: Floats) -> list[list[int]]:
    """For each point the nearest ones that it is not bound to."""
    free = np.where(distances < 0, np.inf, distances)
    np.fill_diagonal(free, np.inf)
    order = np.argsort(free, axis=1, kind="stable")[:, :NEIGHBOURS]
    return [[c for c in row.tolist() if free[a, c] < np.inf] for a, row in enumerate(order)]
