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

_STEP, _LEAST_STEP = 0.01, 0.003
"""By what share a try shortens the length, at first and after many that failed."""

_BACK = 0.3
"""How often a try that failed is followed by one from the best layout, not from where a try ended."""

_BEST_ENDS = 0.25
"""Share of the ends of tries, those with the least overlap, from which most further ones begin."""

_PER_TRY = 1e-3
"""Effort of setting up one try."""

_PATIENCE, _MORE_PATIENCE, _MOST_PATIENCE = 40, 5, 250
"""Rounds without less overlap after which a try is given up: at first, more for each that failed, most."""

_PATIENT = 20
"""So many pieces ask for as much patience again."""


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
        ends: list[tuple[float, list[Where]]] = []
        while not stop.reached and self.top > least + 1e-3:
            stop.spend(_PER_TRY)
            ways = [self.shapes.ways(at[0]) for at in start]
            search = OverlapSearch(self.rasters, [self.room], [max(target, least)], ways, start, self.rng)
            patience = min(_PATIENCE + _MORE_PATIENCE * failed, _MOST_PATIENCE)
            clear = search.run(stop, round(patience * (1 + len(start) / _PATIENT)))
            shorter = search.overlap <= SETTLED and self._settle(
                self.rasters.spots(search.where, self.room), stop, better
            )
            failed = failed // 2 if shorter else failed + 1
            step = max(_STEP * 0.9**failed, _LEAST_STEP)
            # what fits the lattice may not fit exactly: hover where about every other try is clear
            target = min(target * (1 - step if clear else 1 + step), self.top * (1 - _LEAST_STEP))
            start = list(search.where)
            if shorter:
                ends = []
            elif not clear:
                ends.append((search.overlap, start))
                start = self._shaken(self._beginning(ends), failed)

    def _lattice(self) -> list[Where]:
        return self.rasters.where(self.spots, 0, self.room)

    def _settle(self, spots: Sequence[Spot], stop: Stop, better: Callable[[list[Spot]], None]) -> bool:
        found = Compaction(self.room, self.shapes, spots, 2 * self.rasters.cell).settle(stop)
        if found is None or reached(found) >= self.top - 1e-3:
            return False
        self.spots, self.top = found, reached(found)
        better(found)
        return True

    def _beginning(self, ends: list[tuple[float, list[Where]]]) -> list[Where]:
        """Choose the best layout, or where a try since it ended, rather one with little overlap."""
        if self.rng.random() < _BACK:
            return self._lattice()
        rank = int(abs(self.rng.normal()) * _BEST_ENDS * len(ends))
        return list(sorted(ends, key=lambda end: end[0])[min(rank, len(ends) - 1)][1])

    def _shaken(self, where: list[Where], failed: int) -> list[Where]:
        """Let pairs of unlike, rather large pieces change places, the more the more tries have failed."""
        areas = np.array([at[0].area for at in where])
        names = np.array([at[0].item.name for at in where])
        for _ in range(1 + int(self.rng.integers(1 + failed // 8))):
            i = self.rng.choice(len(where), p=areas / areas.sum())
            unlike = np.where(names == names[i], 0.0, areas)
            if unlike.any():
                j = self.rng.choice(len(where), p=unlike / unlike.sum())
                where[i], where[j] = self._amid(where[i], where[j]), self._amid(where[j], where[i])
        return where

    def _amid(self, one: Where, other: Where) -> Where:
        """Put a piece where the middle of another is."""
        (a, *_), (b, sheet, row, column) = one, other
        up = (b.bounds[3] - b.bounds[1] - a.bounds[3] + a.bounds[1]) / (2 * self.rasters.cell)
        right = (b.bounds[2] - b.bounds[0] - a.bounds[2] + a.bounds[0]) / (2 * self.rasters.cell)
        return a, sheet, row + round(up), column + round(right)


def reached(spots: Sequence[Spot]) -> float:
    """Give how far up the pieces reach, in mm."""
    return max(spot.y + spot.shape.bounds[3] for spot in spots)
