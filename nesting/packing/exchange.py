"""Pieces of one sheet changed for others, the rest of them moving to make room."""

from collections.abc import Sequence

import numpy as np

from nesting.packing.filling import Filling, Spot
from nesting.packing.overlap import SETTLED, OverlapSearch
from nesting.packing.rasters import Rasters, Where
from nesting.packing.room import Room
from nesting.packing.shapes import Shape, Shapes
from nesting.packing.stop import Stop
from nesting.packing.twisting import Twisting, as_tried

_EASE = 0.3
"""Overlap let go on the lattice, in cells."""


class Exchange:
    """Takes pieces from a sheet and puts others on it, by a search on overlap on a lattice of its own."""

    def __init__(self, shapes: Shapes, cell: float, rng: np.random.Generator) -> None:
        self.shapes, self.rng = shapes, rng
        self.rasters = Rasters(shapes, cell, _EASE * cell)

    def done(
        self, filling: Filling, gone: Sequence[Spot], new: Sequence[Shape], patience: int, stop: Stop
    ) -> Filling | None:
        """Give the sheet so changed; None if no room is found for what is new.

        Parameters
        ----------
        filling
            The sheet, which stays as it is.
        gone
            Which of its spots go.
        new
            Shapes of the items that come, in any of the ways these may lie.
        patience
            Rounds without less overlap after which to give up.
        """
        room = filling.room
        kept = [spot for spot in filling.spots if not any(spot is other for other in gone)]
        if not new:
            return Filling(room, self.shapes, kept)
        where = self.rasters.where(as_tried(kept, self.shapes), 0, room)
        left = self.rasters.where(as_tried(gone, self.shapes), 0, room)
        self.rng.shuffle(left)
        for k, shape in enumerate(new):
            at = self._put(shape, room, left[k] if k < len(left) else None)
            if at is None:
                return None
            where.append(at)
        choices = [self.shapes.ways(at[0]) for at in where]
        search = OverlapSearch(self.rasters, [room], [room.extent[3]], choices, where, self.rng)
        if not search.run(stop, patience) and search.overlap > SETTLED:
            return None
        spots = self.rasters.spots(search.where, room)
        settled = Twisting(room, self.shapes).settled(spots, 2 * self.rasters.cell, stop)
        return None if settled is None else Filling(room, self.shapes, settled)

    def _put(self, shape: Shape, room: Room, gone: Where | None) -> Where | None:
        """Put an item where another was, or anywhere; None if the sheet does not take it at all."""
        ways = [way for way in self.shapes.ways(shape) if room.positions(way)]
        if not ways:
            return None
        way = ways[self.rng.integers(len(ways))]
        rows, columns = self.rasters.size(room, way, room.extent[3])
        if gone is None:
            return way, 0, int(self.rng.integers(rows)), int(self.rng.integers(columns))
        return way, 0, min(gone[2], rows - 1), min(gone[3], columns - 1)
