"""A first path: always go on with the nearest stroke that may come next."""

import numpy as np

from nesting.routing.shapes import Floats, Point
from nesting.routing.strokes import Ints, Strokes


def nearest_ways(strokes: Strokes, start: Point, before: tuple[frozenset[int], ...]) -> Ints:
    """Choose strokes and ways one after the other, the cheapest to reach first."""
    waiting = np.array([len(earlier) for earlier in before], dtype=np.int64)
    followers: list[list[int]] = [[] for _ in before]
    for stroke, earlier in enumerate(before):
        for first in earlier:
            followers[first].append(stroke)
    barred: Floats = np.where(waiting[strokes.owner] > 0, np.inf, 0.0)
    here, ways = np.array(start), []
    for _ in range(strokes.count):
        hops = strokes.entry - here
        way = int((np.hypot(hops[:, 0], hops[:, 1]) + barred).argmin())
        ways.append(way)
        stroke = int(strokes.owner[way])
        barred[strokes.first[stroke] : strokes.first[stroke + 1]] = np.inf
        for follower in followers[stroke]:
            waiting[follower] -= 1
            if waiting[follower] == 0:
                barred[strokes.first[follower] : strokes.first[follower + 1]] = 0.0
        here = strokes.leave[way]
    return np.array(ways, dtype=np.int64)
