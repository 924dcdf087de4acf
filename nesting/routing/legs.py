"""The cost of every move between the ways of a few hundred strokes, and what must come before what."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from nesting.routing.shapes import Floats, Point
from nesting.routing.strokes import Ints, Strokes

Order = tuple[int, int]
"""A pair of strokes of which the first must be run before the second."""


@dataclass(frozen=True)
class Legs:
    """A problem of order small enough to hold all its costs.

    Attributes
    ----------
    strokes
        What is to be run.
    costs
        From way to way, the cost of the way arrived at included. The last two rows and columns are
        the start and the end of the path.
    before
        For each stroke the strokes that must be run earlier, directly or not.
    """

    strokes: Strokes
    costs: Floats
    before: tuple[frozenset[int], ...]

    @classmethod
    def of(
        cls, strokes: Strokes, start: Point, end: Point | None = None, before: Iterable[Order] = ()
    ) -> "Legs":
        """Compute the costs; without an `end` the path ends where the last stroke does."""
        size = len(strokes.owner)
        leave, entry = np.vstack([strokes.leave, [start]]), strokes.entry
        costs = np.full((size + 2, size + 2), np.inf)
        hops = leave[:, None, :] - entry[None, :, :]
        costs[: size + 1, :size] = strokes.weigh(hops) + strokes.cost
        costs[:size, size + 1] = 0.0
        if end is not None:
            costs[:size, size + 1] = strokes.weigh(strokes.leave - np.array([end]))
        return cls(strokes, costs, closure(strokes.count, before))

    @property
    def start(self) -> int:
        """Index of the start in `costs`."""
        return len(self.strokes.owner)

    @property
    def end(self) -> int:
        """Index of the end in `costs`."""
        return len(self.strokes.owner) + 1

    def total(self, ways: Sequence[int] | Ints) -> float:
        """Cost of a whole path."""
        stops = np.concatenate([[self.start], np.asarray(ways, dtype=np.int64), [self.end]])
        return float(np.sum(self.costs[stops[:-1], stops[1:]])) if len(ways) else 0.0


def closure(count: int, before: Iterable[Order]) -> tuple[frozenset[int], ...]:
    """Collect for each stroke everything that must come before it.

    >>> [sorted(earlier) for earlier in closure(3, [(0, 1), (1, 2)])]
    [[], [0], [0, 1]]
    """
    earlier: list[set[int]] = [set() for _ in range(count)]
    pairs = list(before)
    grown = True
    while grown:
        grown = False
        for first, second in pairs:
            wanted = earlier[first] | {first}
            if not wanted <= earlier[second]:
                earlier[second] |= wanted
                grown = True
    return tuple(map(frozenset, earlier))
