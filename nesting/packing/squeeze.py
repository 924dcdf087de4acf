"""Shortening a layout on a roll: the pieces are made to overlap on less length, and sorted out again."""

from collections.abc import Callable, Sequence

import numpy as np

from nesting.packing.compaction import Compaction
from nesting.packing.filling import Spot
from nesting.packing.overlap import OverlapSearch
from nesting.packing.rasters import Rasters, Where
from nesting.packing.room import Room
from nesting.packing.shapes import Shape, Shapes
from nesting.packing.stop import Stop

EASE = 0.4
"""Overlap let go on the lattice, in cells; the exact places find the room for it."""

_STEP = 0.99
"""Each try aims at this share of the length reached."""

_PATIENCE = 60
"""Rounds without less overlap after which a try is given up."""


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
        """Go on until `stop` is reached, telling of each better layout."""
        self._settle(self.spots, stop, better)
        start, target = self._lattice(), self.top * _STEP
        while not stop.reached:
            search = OverlapSearch(
                self.rasters, [self.room], [target], [self._ways(at) for at in start], start, self.rng
            )
            clear = search.run(stop, _PATIENCE)
            shorter = self._settle(self.rasters.spots(search.where, self.room), stop, better)
            target = min(self.top, target if clear else self.top) * _STEP
            start = list(search.where) if clear or shorter else self._shaken(self._lattice())

    def _lattice(self) -> list[Where]:
        return self.rasters.where(self.spots, 0, self.room)

    def _ways(self, at: Where) -> Sequence[Shape]:
        return self.shapes.ways(at[0])

    def _settle(self, spots: Sequence[Spot], stop: Stop, better: Callable[[list[Spot]], None]) -> bool:
        found = Compaction(self.room, self.shapes, spots, 2 * self.rasters.cell).settle(stop)
        if found is None or reached(found) >= self.top - 1e-3:
            return False
        self.spots, self.top = found, reached(found)
        better(found)
        return True

    def _shaken(self, where: list[Where]) -> list[Where]:
        """Let two pieces change places."""
        if len(where) > 1:
            i, j = self.rng.choice(len(where), size=2, replace=False)
            (one, *first), (other, *second) = where[i], where[j]
            where[i], where[j] = (one, *second), (other, *first)
        return where


def reached(spots: Sequence[Spot]) -> float:
    """Give how far up the pieces reach, in mm."""
    return max(spot.y + spot.shape.bounds[3] for spot in spots)
