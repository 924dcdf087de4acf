"""Improve the order of strokes while each keeps its way, or an open one runs the other way round.

Every stroke becomes a point of a closed tour, or two points that stay joined; so do the start and
the end of the path.
"""

import numpy as np

from nesting.packing.stop import Stop
from nesting.routing.shapes import Point
from nesting.routing.strokes import Ints, Strokes
from nesting.routing.tour import improve_tour

JOINED = -1e6
"""Distance between points that stay joined; far below any cost."""


def straighten(strokes: Strokes, ways: Ints, start: Point, end: Point | None, stop: Stop, seed: int) -> Ints:
    """Improve a path from `start` to `end` (None: it may end anywhere) until `stop` is reached.

    Parameters
    ----------
    ways
        A way for each stroke, in running order. A stroke whose beam goes on and off at different
        points has two ways, one the reverse of the other.
    """
    entry, leave = strokes.entry[ways], strokes.leave[ways]
    two = np.any(entry != leave, axis=1)
    # the points: the start, each stroke's one or two, the end
    keeper = np.repeat(np.arange(len(ways)), 1 + two)
    second = np.diff(keeper, prepend=-1) == 0
    inner = np.where(second[:, None], leave[keeper], entry[keeper])
    points = np.vstack([[start], inner, [start if end is None else end]])
    distances = strokes.weigh(points[:, None] - points)
    if end is None:
        distances[-1, :] = distances[:, -1] = 0.0
    seconds = np.flatnonzero(second) + 1
    joined = np.append(seconds - 1, 0), np.append(seconds, len(points) - 1)
    distances[joined] = distances[joined[::-1]] = JOINED
    tour = improve_tour(distances, list(range(len(points))), stop, seed)
    return _as_ways(strokes, ways, keeper, np.array(_from_start(tour)) - 1)


def _from_start(tour: list[int]) -> list[int]:
    """Turn a closed tour so that it begins after the start, point 0, and ends before the end beside it."""
    at = tour.index(0)
    opened = tour[at:] + tour[:at]
    return opened[1:-1] if opened[-1] == len(tour) - 1 else opened[:1:-1]


def _as_ways(strokes: Strokes, ways: Ints, keeper: Ints, points: Ints) -> Ints:
    """Read the strokes off the points in running order; the last point first means the other way."""
    _, first = np.unique(keeper[points], return_index=True)
    path = []
    for place in np.sort(first):
        point = points[place]
        way = int(ways[keeper[point]])
        if point > 0 and keeper[point - 1] == keeper[point]:
            options = strokes.ways(int(strokes.owner[way]))
            way = options.start + options.stop - 1 - way
        path.append(way)
    return np.array(path)
