"""The order of any number of strokes: exact for a few, searched for more, piece by piece for many."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from nesting.packing.stop import Stop
from nesting.routing.choose import choose_ways
from nesting.routing.exact import best_ways, is_small
from nesting.routing.legs import Legs, Order, closure
from nesting.routing.nearest import nearest_ways
from nesting.routing.rebuild import rebuild
from nesting.routing.shapes import Floats, Point
from nesting.routing.straighten import straighten
from nesting.routing.strokes import Ints, Strokes

PIECE = 150
"""Strokes searched together with all their ways."""

LONG_PIECE = 500
"""Strokes searched together, each with one way."""

MOST_ROUNDS = 5
ROUND = 0.2
"""Seconds or effort that a round of a search is worth at least."""


@dataclass(frozen=True)
class Found:
    """Ways in running order, and whether no order and choice of ways is better."""

    ways: Ints
    proven: bool


@dataclass(frozen=True)
class Task:
    """Strokes to be run from a start (to an end, if there is one), some before others."""

    strokes: Strokes
    start: Point
    end: Point | None = None
    before: tuple[Order, ...] = ()

    def total(self, ways: Ints) -> float:
        """Cost of a path."""
        return self.strokes.total(ways, self.start, self.end)

    def chosen(self, ways: Ints) -> Ints:
        """Choose the ways anew, the order kept."""
        return choose_ways(self.strokes, self.strokes.owner[ways], self.start, self.end)

    def allows(self, ways: Ints) -> bool:
        """Tell whether what must come earlier does."""
        place = np.empty(len(ways), dtype=np.int64)
        place[self.strokes.owner[ways]] = np.arange(len(ways))
        return all(place[first] < place[second] for first, second in self.before)

    def piece(self, ways: Ints, low: int, high: int) -> tuple["Task", Ints]:
        """Cut out the strokes of ``ways[low:high]`` between their neighbours; give their ways too."""
        inside = np.sort(self.strokes.owner[ways[low:high]])
        options = np.flatnonzero(np.isin(self.strokes.owner, inside))
        numbers = {int(stroke): k for k, stroke in enumerate(inside)}
        pairs = tuple((numbers[a], numbers[b]) for a, b in self.before if a in numbers and b in numbers)
        start = _point(self.strokes.leave[ways[low - 1]]) if low else self.start
        end = _point(self.strokes.entry[ways[high]]) if high < len(ways) else self.end
        return Task(self.strokes.only(options), start, end, pairs), options


Improve = Callable[[Task, Ints, Stop, int], Ints]


def find_ways(task: Task, stop: Stop, seed: int, first: Ints | None = None) -> Found:
    """Order strokes and choose how to run each so that the path costs little.

    `first` is a path to begin with, if one is known that may be better than going to the nearest.
    """
    count = task.strokes.count
    if count <= PIECE:
        legs = Legs.of(task.strokes, task.start, task.end, task.before)
        if is_small(legs):
            return Found(best_ways(legs), proven=True)
    ways = nearest_ways(task.strokes, task.start, closure(count, task.before))
    if first is not None and task.total(first) < task.total(ways):
        ways = first
    if count <= PIECE:
        return Found(_searched(task, task.chosen(ways), stop, seed), proven=False)
    part = stop.part(0.4)
    ways = task.chosen(_by_pieces(task, ways, _straightened, LONG_PIECE, part, seed))
    stop.spend(part.spent)
    return Found(task.chosen(_by_pieces(task, ways, _searched, PIECE, stop, seed)), proven=False)


def _searched(task: Task, ways: Ints, stop: Stop, seed: int) -> Ints:
    """Improve order and ways in turn and together."""
    legs = Legs.of(task.strokes, task.start, task.end, task.before)
    best, least = ways, legs.total(ways)
    rounds = max(1, min(MOST_ROUNDS, int(stop.left / ROUND)))
    for turn in range(rounds):
        part = stop.part(1 / (rounds - turn))
        half = part.part(0.4)
        straight = _straightened(task, best, half, seed + turn)
        part.spend(half.spent)
        ways = task.chosen(straight if task.allows(straight) else best)
        ways = task.chosen(rebuild(legs, ways, part, seed + turn))
        stop.spend(part.spent)
        if (total := legs.total(ways)) < least - 1e-9:
            best, least = ways, total
    return best


def _straightened(task: Task, ways: Ints, stop: Stop, seed: int) -> Ints:
    return straighten(task.strokes, ways, task.start, task.end, stop, seed)


def _by_pieces(task: Task, ways: Ints, improve: Improve, size: int, stop: Stop, seed: int) -> Ints:
    """Improve one stretch of a path after the other, then those between the middles of the first ones."""
    count = len(ways)
    cuts = [(k, min(k + size, count)) for k in range(0, count, size)]
    cuts += [(k, min(k + size, count)) for k in range(size // 2, max(count - size // 2, 0), size)]
    for turn, (low, high) in enumerate(cuts):
        if stop.reached:
            break
        part = stop.part(1 / (len(cuts) - turn))
        piece, options = task.piece(ways, low, high)
        inner = improve(piece, np.searchsorted(options, ways[low:high]), part, seed + turn)
        if piece.allows(inner):
            ways = np.concatenate([ways[:low], options[inner], ways[high:]])
        stop.spend(part.spent)
    return ways


def _point(xy: Floats) -> Point:
    return float(xy[0]), float(xy[1])
