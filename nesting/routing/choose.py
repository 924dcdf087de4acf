"""The best way to run each stroke when their order is given: exact, by dynamic programming."""

import numpy as np

from nesting.routing.shapes import Floats, Point
from nesting.routing.strokes import Ints, Strokes


def choose_ways(strokes: Strokes, order: Ints, start: Point, end: Point | None = None) -> Ints:
    """Choose a way for each stroke of an order so that the whole costs least.

    Parameters
    ----------
    order
        The strokes, each once.
    start, end
        Where the path begins, and where it must go last (None: it ends where the last stroke does).

    Returns
    -------
    The ways in running order.
    """
    reached, came_from = np.zeros(1), []
    leave = np.array([start])
    for stroke in order:
        ways = strokes.ways(int(stroke))
        costs = reached[:, None] + _cost(strokes, leave, strokes.entry[ways.start : ways.stop])
        came_from.append(costs.argmin(axis=0))
        reached = costs.min(axis=0) + strokes.cost[ways.start : ways.stop]
        leave = strokes.leave[ways.start : ways.stop]
    if end is not None:
        reached = reached + _cost(strokes, leave, np.array([end]))[:, 0]
    return _traced(strokes, order, came_from, int(reached.argmin()))


def _traced(strokes: Strokes, order: Ints, came_from: list[Ints], last: int) -> Ints:
    ways = np.zeros(len(order), dtype=np.int64)
    for k in range(len(order) - 1, -1, -1):
        ways[k] = strokes.first[order[k]] + last
        last = int(came_from[k][last])
    return ways


def _cost(strokes: Strokes, leave: Floats, entry: Floats) -> Floats:
    return strokes.weigh(leave[:, None, :] - entry[None, :, :])
