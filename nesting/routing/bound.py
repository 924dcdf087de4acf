"""What no path can undercut, whatever its order.

Held and Karp, "The traveling-salesman problem and minimum spanning trees" (1970): a path that runs
every stroke is a spanning tree of the strokes in which no stroke has more than two legs. Without that
rule the cheapest tree is quickly found; prices on the strokes, raised where a tree has too many legs
and lowered where it has too few, bring it close to the cheapest path. A leg costs what the nearest
two ends of its strokes cost, so where strokes have several ways the bound stays below what is possible.
"""

import numpy as np

from nesting.routing.shapes import Floats, Point
from nesting.routing.strokes import Ints, Strokes

ROUNDS = 500


def path_bound(strokes: Strokes, start: Point, reached: float, rounds: int = ROUNDS) -> float:
    """Give a lower bound on the cost of every path from `start` that runs all strokes.

    `reached` is the cost of a path that is known: the nearer to the least, the better the bound.

    Examples
    --------
    >>> from nesting.geometry.contour import Contour
    >>> from nesting.routing.shapes import Line
    >>> from nesting.routing.strokes import make_strokes
    >>> lines = [Line(Contour.circle(2, x=x), 10) for x in (10, 50, 30)]
    >>> round(path_bound(make_strokes(lines, None, 2), (0, 0), 50), 6)
    45.0
    """
    return tree_bound(_nearest_legs(strokes, start), reached, rounds) if strokes.count else 0.0


def tree_bound(legs: Floats, reached: float, rounds: int = ROUNDS) -> float:
    """Do the same for stops of which only the least cost of going from one to another is known.

    Parameters
    ----------
    legs
        Symmetric, shape (n + 1, n + 1); the start is number 0.
    """
    count = len(legs) - 1
    prices, best, pace, idle = np.zeros(count + 1), -np.inf, 2.0, 0
    for _ in range(max(rounds, 1)):
        # the path ends anywhere: one stroke, the one of least price, has a leg to nowhere; so has the start
        cost, degrees = _cheapest_tree(legs + prices[:, None] + prices)
        last = int(prices[1:].argmin()) + 1
        degrees[[0, last]] += 1
        bound = float(cost + prices[0] + prices[last] - 2 * prices.sum())
        idle = 0 if bound > best else idle + 1
        best = max(best, bound)
        surplus = degrees - 2
        if not surplus.any() or best >= reached:
            break
        # the step length of Polyak (1969), made smaller whenever it leads nowhere
        if idle > 10:
            pace, idle = pace / 2, 0
        prices += pace * (reached - bound) / float(surplus @ surplus) * surplus
    return best


def _nearest_legs(strokes: Strokes, start: Point) -> Floats:
    """Least cost of going from stroke to stroke, either way; the start is number 0."""
    count, first = strokes.count, strokes.first[:-1]
    least = np.zeros((count + 1, count + 1))
    for stroke in range(count):
        ways = strokes.ways(stroke)
        reached = strokes.weigh(strokes.entry[:, None] - strokes.leave[ways.start : ways.stop]).min(axis=1)
        least[stroke + 1, 1:] = np.minimum.reduceat(reached, first)
    least[0, 1:] = np.minimum.reduceat(strokes.weigh(strokes.entry - np.array(start)), first)
    least[1:, 0] = least[0, 1:]
    return np.minimum(least, least.T)


def _cheapest_tree(legs: Floats) -> tuple[float, Ints]:
    """Cost of the minimum spanning tree, grown from point 0 (Prim), and the legs at each point."""
    count = len(legs)
    degrees, parent = np.zeros(count, dtype=np.int64), np.zeros(count, dtype=np.int64)
    reach, inside = legs[0].copy(), np.zeros(count, dtype=bool)
    inside[0] = True
    total = 0.0
    for _ in range(count - 1):
        point = int(np.where(inside, np.inf, reach).argmin())
        total += float(reach[point])
        degrees[[point, parent[point]]] += 1
        inside[point] = True
        closer = (legs[point] < reach) & ~inside
        parent[closer] = point
        reach[closer] = legs[point, closer]
    return total, degrees
