"""Emptying a sheet by and by: its pieces go to fuller sheets one by one, alone or for a smaller piece.

Each step is small, the search for room being one on a single sheet, and what is won is kept, so that
many sheets can be thinned out where moving a whole one at once is hopeless.
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np

from nesting.packing.filling import Filling, Spot
from nesting.packing.overlap import SETTLED, OverlapSearch
from nesting.packing.rasters import Rasters
from nesting.packing.room import Room
from nesting.packing.shapes import Shapes
from nesting.packing.stop import Stop
from nesting.packing.twisting import Twisting, as_tried

_EASE = 0.3
"""Overlap let go on the lattice, in cells."""

_PATIENCE = 40
"""Rounds without less overlap after which a step is given up."""

_TRIES = 2
"""How often the same step is tried as long as its sheets stay as they are."""

_PER_TRY = 1e-3
"""Effort of setting up one try."""


class _Step(NamedTuple):
    """A piece of the emptiest sheet goes to another, for nothing or for a smaller piece of that one."""

    to: int
    piece: Spot
    back: Spot | None
    share: float
    """Share of the free area that the receiving sheet loses."""


class Concentration:
    """Finds layouts of as many sheets, or one less, whose emptiest sheet holds less."""

    def __init__(self, shapes: Shapes, cell: float, rng: np.random.Generator) -> None:
        self.shapes, self.rng = shapes, rng
        self.rasters = Rasters(shapes, cell, _EASE * cell)
        self._failed: Counter[tuple[Filling, Filling, str, str]] = Counter()

    def step(self, fillings: Sequence[Filling], stop: Stop) -> list[Filling] | None:
        """Try one step; None if it fails, or nothing is left to try."""
        stop.spend(_PER_TRY)
        giver = min(range(len(fillings)), key=lambda k: fillings[k].area)
        steps = list(self._steps(fillings, giver))
        if not steps:
            return None
        chances = np.array([step.share * (1.0 - step.share) ** 2 for step in steps]) + 1e-9
        step = steps[self.rng.choice(len(steps), p=chances / chances.sum())]
        found = self._done(fillings, giver, step, stop)
        if found is None:
            self._failed[_key(fillings, giver, step)] += 1
        return found

    def _steps(self, fillings: Sequence[Filling], giver: int) -> Iterator[_Step]:
        pieces = {spot.shape.item.name: spot for spot in fillings[giver].spots}
        for to, filling in enumerate(fillings):
            free = filling.room.area - filling.area
            if to == giver:
                continue
            backs = {spot.shape.item.name: spot for spot in filling.spots}
            for piece in pieces.values():
                for back in (None, *backs.values()):
                    gain = piece.shape.area - (back.shape.area if back else 0.0)
                    step = _Step(to, piece, back, gain / max(free, 1e-9))
                    if gain > 1e-6 and step.share <= 1 and self._failed[_key(fillings, giver, step)] < _TRIES:
                        yield step

    def _done(self, fillings: Sequence[Filling], giver: int, step: _Step, stop: Stop) -> list[Filling] | None:
        found = list(fillings)
        found_there = self._changed(fillings[step.to], step.back, step.piece, stop)
        if found_there is None:
            return None
        found_here = self._changed(fillings[giver], step.piece, step.back, stop)
        if found_here is None:
            return None
        found[step.to], found[giver] = found_there, found_here
        return [filling for filling in found if filling.spots]

    def _changed(self, filling: Filling, gone: Spot | None, new: Spot | None, stop: Stop) -> Filling | None:
        """Take a piece from a sheet and put another on it, moving the rest; None if there is no room."""
        kept = [spot for spot in filling.spots if spot is not gone]
        if new is None:
            return Filling(filling.room, self.shapes, kept)
        spots = self._with(filling.room, kept, new, gone, stop)
        return None if spots is None else Filling(filling.room, self.shapes, spots)

    def _with(
        self, room: Room, kept: list[Spot], new: Spot, gone: Spot | None, stop: Stop
    ) -> list[Spot] | None:
        ways = [way for way in self.shapes.ways(new.shape) if room.positions(way)]
        if not ways:
            return None
        way = ways[self.rng.integers(len(ways))]
        rows, columns = self.rasters.size(room, way, room.extent[3])
        where = self.rasters.where(as_tried(kept, self.shapes), 0, room)
        if gone is None:
            where.append((way, 0, int(self.rng.integers(rows)), int(self.rng.integers(columns))))
        else:
            (_, sheet, row, column) = self.rasters.where(as_tried([gone], self.shapes), 0, room)[0]
            where.append((way, sheet, row, column))
        choices = [self.shapes.ways(at[0]) for at in where]
        search = OverlapSearch(self.rasters, [room], [room.extent[3]], choices, where, self.rng)
        if not search.run(stop, _PATIENCE) and search.overlap > SETTLED:
            return None
        spots = self.rasters.spots(search.where, room)
        return Twisting(room, self.shapes).settled(spots, 2 * self.rasters.cell, stop)


def _key(fillings: Sequence[Filling], giver: int, step: _Step) -> tuple[Filling, Filling, str, str]:
    back = step.back.shape.item.name if step.back else ""
    return fillings[giver], fillings[step.to], step.piece.shape.item.name, back
