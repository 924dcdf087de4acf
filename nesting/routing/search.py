"""The order of any number of strokes: exact for a few, searched for more, piece by piece for many."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from nesting.packing.stop import Stop
from nesting.routing.choose import choose_ways
from nesting.routing.exact import best_ways, is_small
from nesting.routing.legs import Legs, Order, closure
from nesting.routing.nearest import nearest_ways
from nesting.routing.rebuild import rebuild
from nesting.routing.shapes import Point
from nesting.routing.strokes import Ints, Strokes

PIECE = 150
"""Strokes searched together."""


@dataclass(frozen=True)
class Found:
    """Ways in running order, and whether no order and choice of ways is better."""

    ways: Ints
    proven: bool


def find_ways(
    strokes: Strokes,
    start: Point,
    stop: Stop,
    seed: int,
    before: Iterable[Order] = (),
    first: Ints | None = None,
) -> Found:
    """Order strokes and choose how to run each so that the path from `start` costs little.

    Parameters
    ----------
    before
        Pairs of strokes of which the first must be run earlier.
    first
        A path to begin with, if one is known that may be better than going to the nearest.
    """
    pairs = list(before)
    ways = nearest_ways(strokes, start, closure(strokes.count, pairs))
    if first is not None and strokes.total(first, start) < strokes.total(ways, start):
        ways = first
    ways = choose_ways(strokes, strokes.owner[ways], start)
    if strokes.count <= PIECE:
        legs = Legs.of(strokes, start, None, pairs)
        if is_small(legs):
            return Found(best_ways(legs), proven=True)
        return Found(rebuild(legs, ways, stop, seed), proven=False)
    return Found(_by_pieces(strokes, start, stop, seed, pairs, ways), proven=False)


def _by_pieces(
    strokes: Strokes, start: Point, stop: Stop, seed: int, before: list[Order], ways: Ints
) -> Ints:
    """Search one stretch of the path after the other, each pass from another place."""
    passes = 2
    for turn in range(passes):
        lows = range(-(PIECE // 2) * (turn % 2), len(ways), PIECE)
        for k, low in enumerate(lows):
            share = 1 / ((passes - turn - 1) * len(lows) + len(lows) - k)
            part = stop.part(share)
            ways = _piece(strokes, start, part, seed + k, before, ways, max(low, 0), low + PIECE)
            stop.spend(part.spent)
    return choose_ways(strokes, strokes.owner[ways], start)


def _piece(
    strokes: Strokes,
    start: Point,
    stop: Stop,
    seed: int,
    before: list[Order],
    ways: Ints,
    low: int,
    high: int,
) -> Ints:
    """Search the stretch ``ways[low:high]`` between its fixed neighbours."""
    inside = np.sort(strokes.owner[ways[low:high]])
    if len(inside) < 3:
        return ways
    numbers = {int(stroke): k for k, stroke in enumerate(inside)}
    options = np.flatnonzero(np.isin(strokes.owner, inside))
    pairs = [(numbers[a], numbers[b]) for a, b in before if a in numbers and b in numbers]
    come_from = start if low == 0 else tuple(strokes.leave[ways[low - 1]])
    end = tuple(strokes.entry[ways[high]]) if high < len(ways) else None
    legs = Legs.of(strokes.only(options), come_from, end, pairs)
    better = rebuild(legs, np.searchsorted(options, ways[low:high]), stop, seed)
    return np.concatenate([ways[:low], options[better], ways[high:]])
