"""Filling a sheet piece by piece: what is still free for a shape, exactly, and its best place there."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from shapely import Geometry

from nesting.packing.room import Room
from nesting.packing.shapes import Shape, Shapes
from nesting.units import GRID_MM

_ROUND = np.array([(0, 0), (0, -1), (-1, 0), (0, 1), (1, 0), (-1, -1), (1, -1), (-1, 1), (1, 1)])
"""The grid point next to a position and its neighbours, in the order they are tried."""


@dataclass(frozen=True, slots=True)
class Spot:
    """A shape at a position on the grid."""

    shape: Shape
    x: float
    y: float


@dataclass(eq=False)
class Filling:
    """A sheet being filled.

    Attributes
    ----------
    room
        The sheet and what is free on it.
    shapes
        The shapes and their no-fit polygons.
    spots
        What lies on it.
    """

    room: Room
    shapes: Shapes
    spots: list[Spot] = field(default_factory=list)
    _taken: dict[int, tuple[Geometry, int]] = field(default_factory=dict)

    @property
    def area(self) -> float:
        """Area in mm² of all that lies on it."""
        return sum(spot.shape.area for spot in self.spots)

    def put(self, spot: Spot) -> None:
        """Add a piece."""
        self.spots.append(spot)

    def taken(self, shape: Shape) -> Geometry:
        """Give the positions forbidden to a shape by the obstacles and by everything put so far."""
        region, counted = self._taken.get(shape.index, (None, 0))
        parts = [region] if region is not None else [n.region for n in self.room.nofits(shape)]
        new = self.spots[counted:]
        if region is None or new:
            nofits = [self.shapes.nofit(spot.shape, shape).region for spot in new]
            region = shapely.union_all([*parts, *_shifted(nofits, [(spot.x, spot.y) for spot in new])])
        self._taken[shape.index] = region, len(self.spots)
        return region

    def best(self, shape: Shape) -> Spot | None:
        """Find the lowest place for a shape, the leftmost of the lowest; None if there is none."""
        box = self.room.positions(shape)
        if box is None:
            return None
        taken = self.taken(shape)
        free = shapely.box(*box).difference(taken)
        corners = shapely.get_coordinates(free)
        shapely.prepare(taken)
        for corner in corners[np.lexsort((corners[:, 0], corners[:, 1]))]:
            near = (np.round(corner / GRID_MM) + _ROUND) / 1000
            held = (
                (near[:, 0] >= box[0])
                & (near[:, 1] >= box[1])
                & (near[:, 0] <= box[2])
                & (near[:, 1] <= box[3])
            )
            good = held & ~shapely.contains_xy(taken, near)
            if good.any():
                x, y = near[np.argmax(good)]
                return Spot(shape, float(x), float(y))
        return None


def counted(fillings: Iterable[Filling]) -> Counter[str]:
    """Count what lies on some sheets of each item, by its name."""
    return Counter(spot.shape.item.name for filling in fillings for spot in filling.spots)


def _shifted(regions: Sequence[Geometry], ways: Sequence[tuple[float, float]]) -> Sequence[Geometry]:
    """Shift each region by its way, all at once."""
    if not regions:
        return []
    found = np.array(regions, object)
    points, owner = shapely.get_coordinates(found, return_index=True)
    return list(shapely.set_coordinates(found, points + np.array(ways)[owner]))
