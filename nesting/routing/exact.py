"""The best order of a few strokes: exact, by dynamic programming over their subsets.

After Held and Karp (1962), with several ways to run a stroke and precedence between strokes.
"""

import numpy as np

from nesting.routing.legs import Legs
from nesting.routing.strokes import Ints

MOST_STROKES = 11
MOST_WAYS = 200


def is_small(legs: Legs) -> bool:
    """Tell whether `best_ways` is quick enough (well under a second)."""
    return legs.strokes.count <= MOST_STROKES and len(legs.strokes.owner) <= MOST_WAYS


def best_ways(legs: Legs) -> Ints:
    """Find the ways in the order of least cost; no order is better.

    >>> from nesting.routing.shapes import Block
    >>> from nesting.routing.strokes import make_strokes
    >>> strokes = make_strokes([Block(((9, 0, 9, 5),), 100), Block(((1, 5, 1, 0),), 100)], None, 2)
    >>> best_ways(Legs.of(strokes, (0, 0))).tolist()
    [3, 1]
    """
    count, size = legs.strokes.count, len(legs.strokes.owner)
    if count == 0:
        return np.zeros(0, dtype=np.int64)
    masks = [sum(1 << stroke for stroke in earlier) for earlier in legs.before]
    reached = np.full((1 << count, size), np.inf)
    came_from = np.zeros((1 << count, size), dtype=np.int64)
    for done in range((1 << count) - 1):
        rows = _ways_of(legs, done)
        arriving = legs.costs[rows, :size] + (reached[done, rows][:, None] if done else 0.0)
        best = arriving.argmin(axis=0)
        for stroke in range(count):
            if not done >> stroke & 1 and masks[stroke] & ~done == 0:
                ways = np.array(legs.strokes.ways(stroke))
                reached[done | 1 << stroke, ways] = arriving[best[ways], ways]
                came_from[done | 1 << stroke, ways] = rows[best[ways]]
    last = int((reached[-1] + legs.costs[:size, legs.end]).argmin())
    return _traced(legs, came_from, last)


def _ways_of(legs: Legs, done: int) -> Ints:
    """All ways of the strokes in a subset; the start of the path for the empty one."""
    ways = [
        way for stroke in range(done.bit_length()) if done >> stroke & 1 for way in legs.strokes.ways(stroke)
    ]
    return np.array(ways or [legs.start])


def _traced(legs: Legs, came_from: Ints, last: int) -> Ints:
    done, ways = len(came_from) - 1, []
    while done:
        ways.append(last)
        step = int(came_from[done, last])
        done ^= 1 << int(legs.strokes.owner[last])
        last = step
    return np.array(ways[::-1])
