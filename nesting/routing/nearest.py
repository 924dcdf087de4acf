"""A first path: always go on with the nearest stroke that may come next."""

import numpy as np

from nesting.routing.shapes import Floats, Point
from nesting.routing.strokes import Ints, Strokes


def nearest_ways(strokes: Strokes, start: Point, before: tuple[frozenset[int], ...]) -> Ints:
    """Choose strokes and ways one after the other, the nearest first."""
    waiting = [len(earlier) for earlier in before]
    followers: list[list[int]] = [[] for _ in before]
    for stroke, earlier in enumerate(before):
        for first in earlier:
            followers[first].append(stroke)
    field = _Field(strokes, [stroke for stroke, count in enumerate(waiting) if count == 0])
    here, ways = np.array(start), []
    for _ in range(strokes.count):
        way = field.nearest(here)
        stroke = int(strokes.owner[way])
        field.remove(stroke)
        for follower in followers[stroke]:
            waiting[follower] -= 1
            if waiting[follower] == 0:
                field.add(follower)
        ways.append(way)
        here = strokes.leave[way]
    return np.array(ways, dtype=np.int64)


class _Field:
    """The entries of the strokes that may come next, packed anew whenever half of them are used up."""

    def __init__(self, strokes: Strokes, free: list[int]) -> None:
        self.strokes = strokes
        self.free = set(free)
        self.pack()

    def pack(self) -> None:
        spans = [np.arange(*self.strokes.first[[stroke, stroke + 1]]) for stroke in sorted(self.free)]
        self.ways = np.concatenate(spans) if spans else np.zeros(0, dtype=np.int64)
        self.x, self.y = self.strokes.entry[self.ways].T.copy()
        self.packed = len(self.free)

    def nearest(self, here: Floats) -> int:
        squares: Floats = (self.x - here[0]) ** 2 + (self.y - here[1]) ** 2
        return int(self.ways[squares.argmin()])

    def add(self, stroke: int) -> None:
        self.free.add(stroke)
        self.pack()

    def remove(self, stroke: int) -> None:
        self.free.discard(stroke)
        low, high = np.searchsorted(self.ways, self.strokes.first[[stroke, stroke + 1]])
        self.x[low:high] = np.inf
        if 2 * len(self.free) < self.packed:
            self.pack()
