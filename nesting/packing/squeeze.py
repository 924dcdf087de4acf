"""Shortening a layout on a roll: the pieces are made to overlap on less length, and sorted out again."""

from collections.abc import Callable, Sequence

import numpy as np

from nesting.packing.compaction import Compaction
from nesting.packing.filling import Spot
from nesting.packing.overlap import SETTLED, OverlapSearch
from nesting.packing.rasters import Rasters, Where
from nesting.packing.room import Room
from nesting.packing.shapes import Shapes
from nesting.packing.stop import Stop

EASE = 0.4
"""Overlap let go on the lattice, in cells; the exact places find the room for it."""

_STEP, _LEAST_STEP = 0.01, 0.002
"""By what share a try shortens the length, at first and after many that failed."""

_BACK = 0.1
"""How often a try that failed is followed by one from the best layout, not from where it ended."""

_PER_TRY = 1e-3
"""Effort of setting up one try."""

_PATIENCE, _MORE_PATIENCE, _MOST_PATIENCE = 40, 5, 250
"""Rounds without less overlap after which a try is given up: at first, more for each that failed, most."""


class Squeeze:
    """Shortens a layout on a roll.

    Attributes
    ----------
    spots
        The best layout so far.
    top
        How far up it reaches in mm.
    """

    def __init__(
        self, shapes: Shapes, room: Room, spots: Sequence[Spot], cell: float, rng: np.random.Generator
    ) -> None:
        self.shapes, self.room, self.rng = shapes, room, rng
        self.rasters = Rasters(shapes, cell, EASE * cell)
        self.spots, self.top = list(spots), reached(spots)

    def run(self, stop: Stop, better: Callable[[list[Spot]], None]) -> None:
        """Go on until `stop` is reached or nothing can be shorter, telling of each better layout."""
        self._settle(self.spots, stop, better)
        least = self.room.extent[1] + max(
            min(way.bounds[3] - way.bounds[1] for way in self.shapes.ways(spot.shape)) for spot in self.spots
        )
        start, target, failed = self._lattice(), self.top * (1 - _STEP), 0
        while not stop.reached and self.top > least + 1e-3:
            stop.spend(_PER_TRY)
            ways = [self.shapes.ways(at[0]) for at in start]
            search = OverlapSearch(self.rasters, [self.room], [max(target, least)], ways, start, self.rng)
            clear = search.run(stop, min(_PATIENCE + _MORE_PATIENCE * failed, _MOST_PATIENCE))
            shorter = search.overlap <= SETTLED and self._settle(
                self.rasters.spots(search.where, self.room), stop, better
            )
            failed = failed // 2 if shorter else failed + 1
            step = max(_STEP * 0.9**failed, _LEAST_STEP)
            target = min(self.top, target if clear else self.top) * (1 - step)
            start = list(search.where)
            if not clear and not shorter:
                start = self._shaken(self._lattice() if self.rng.random() < _BACK else start, failed)

    def _lattice(self) -> list[Where]:
        return self.rasters.where(self.spots, 0, self.room)

    def _settle(self, spots: Sequence[Spot], stop: Stop, better: Callable[[list[Spot]], None]) -> bool:
        found = Compaction(self.room, self.shapes, spots, 2 * self.rasters.cell).settle(stop)
        if found is None or reached(found) >= self.top - 1e-3:
            return False
        self.spots, self.top = found, reached(found)
        better(found)
        return True

    def _shaken(self, where: list[Where], failed: int) -> list[Where]:
        """Let pairs of pieces change places, the more of them the more tries have failed."""
        for _ in range(1 + int(self.rng.integers(1 + failed // 8)) if len(where) > 1 else 0):
            i, j = self.rng.choice(len(where), size=2, replace=False)
            (one, *first), (other, *second) = where[i], where[j]
            where[i], where[j] = (one, *second), (other, *first)
        return where


def reached(spots: Sequence[Spot]) -> float:
    """Give how far up the pieces reach, in mm."""
    return max(spot.y + spot.shape.bounds[3] for spot in spots)
