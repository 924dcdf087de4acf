"""No-fit polygons sampled on a lattice: how deep each position presses one shape into another.

The lower left corner of every shape's extent sits on the lattice, so that a shape lies flush against
the left and lower side of a sheet, and the way between two shapes is a whole number of cells.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nesting.geometry.contour import Points
from nesting.geometry.nofit import SLACK_MM, NoFit
from nesting.packing.filling import Spot
from nesting.packing.room import Room
from nesting.packing.shapes import Shape, Shapes

Grid = NDArray[np.float32]
Index = NDArray[np.intp]
Axis = NDArray[np.float64]

Where = tuple[Shape, int, int, int]
"""A shape, the index of its sheet, and the row and column of its lower left corner."""

TOUCH = 0.125
"""What the slightest overlap counts, in cells."""

OBSTACLE = 50.0
"""How much worse it is to lie on an obstacle than on a piece."""


@dataclass(frozen=True, eq=False, slots=True)
class DepthMap:
    """Depth in cells at ``(row + k, column + l)`` cells from the standing shape, for entry (k, l)."""

    row: int
    column: int
    depth: Grid


class Rasters:
    """The depth maps of one problem on one lattice, each made when first asked for.

    Attributes
    ----------
    cell
        Width of a cell in mm.
    ease
        Overlap in mm that still counts as none: the lattice is coarse, and what it finds is moved
        to exact places afterwards.
    """

    def __init__(self, shapes: Shapes, cell: float, ease: float) -> None:
        self.shapes, self.cell, self.ease = shapes, cell, ease
        count = len(shapes.all)
        self._maps: list[list[DepthMap | None]] = [[None] * count for _ in range(count)]
        self._frames = np.zeros((count, count, 4), np.intp)  # row, column, height, width
        self._obstacles: dict[tuple[int, int], list[DepthMap]] = {}

    def between(self, static: Shape, orbiting: Shape) -> DepthMap:
        """Give the depth of `orbiting` in `static`, by the way from the one's corner to the other's."""
        found = self._maps[static.index][orbiting.index]
        if found is None:
            corner = static.bounds[0] - orbiting.bounds[0], static.bounds[1] - orbiting.bounds[1]
            found = self._sampled(self.shapes.nofit(static, orbiting), corner)
            rows, columns = found.depth.shape
            back = DepthMap(1 - found.row - rows, 1 - found.column - columns, found.depth[::-1, ::-1])
            self._keep(orbiting.index, static.index, back)
            self._keep(static.index, orbiting.index, found)
        return found

    def depths(
        self, orbiting: Shape, row: int, column: int, static: Index, rows: Index, columns: Index
    ) -> NDArray[np.float32]:
        """Look up how deep one shape lies in each of many, given by index, row and column."""
        frames = self._frames[static, orbiting.index]
        for k in np.flatnonzero(frames[:, 2] == 0):
            self.between(self.shapes.all[static[k]], orbiting)
            frames[k] = self._frames[static[k], orbiting.index]
        k, m = row - rows - frames[:, 0], column - columns - frames[:, 1]
        near = np.flatnonzero((k >= 0) & (k < frames[:, 2]) & (m >= 0) & (m < frames[:, 3]))
        depths = np.zeros(len(static), np.float32)
        for i, row_in, column_in in zip(near.tolist(), k[near].tolist(), m[near].tolist(), strict=True):
            depths[i] = self.between(self.shapes.all[static[i]], orbiting).depth[row_in, column_in]
        return depths

    def _keep(self, static: int, orbiting: int, found: DepthMap) -> None:
        self._frames[static, orbiting] = found.row, found.column, *found.depth.shape
        self._maps[static][orbiting] = found

    def where(self, spots: Sequence[Spot], sheet: int, room: Room) -> list[Where]:
        """Give the places on the lattice next to exact ones."""
        x0, y0 = room.extent[:2]
        return [
            (
                spot.shape,
                sheet,
                round((spot.y + spot.shape.bounds[1] - y0) / self.cell),
                round((spot.x + spot.shape.bounds[0] - x0) / self.cell),
            )
            for spot in spots
        ]

    def spots(self, where: Iterable[Where], room: Room) -> list[Spot]:
        """Give the exact places that places on the lattice stand for."""
        x0, y0 = room.extent[:2]
        return [
            Spot(
                shape,
                x0 - shape.bounds[0] + self.cell * column,
                y0 - shape.bounds[1] + self.cell * row,
            )
            for shape, _, row, column in where
        ]

    def size(self, room: Room, shape: Shape, top: float) -> tuple[int, int]:
        """Count the rows and columns of positions on a sheet that is used up to `top`; (0, 0) if none.

        A shape higher than that keeps one row, and sticks out.
        """
        if room.positions(shape) is None:
            return 0, 0
        x0, y0, x1, _ = room.extent
        wide, high = shape.bounds[2] - shape.bounds[0], shape.bounds[3] - shape.bounds[1]
        columns = math.floor((x1 - x0 - wide + self.ease) / self.cell) + 1
        rows = math.floor((top - y0 - high + self.ease) / self.cell) + 1
        return max(rows, 1), max(columns, 1)

    def obstacles(self, room: Room, shape: Shape, rows: int, columns: int) -> Grid:
        """Give the depth in the sheet's obstacles, each cell counted `OBSTACLE` times."""
        key = id(room), shape.index
        if key not in self._obstacles:
            corner = room.extent[0] - shape.bounds[0], room.extent[1] - shape.bounds[1]
            self._obstacles[key] = [self._sampled(nofit, corner) for nofit in room.nofits(shape)]
        grid = np.zeros((rows, columns), np.float32)
        for found in self._obstacles[key]:
            put(grid, found, 0, 0, OBSTACLE)
        return grid

    def _sampled(self, nofit: NoFit, corner: tuple[float, float]) -> DepthMap:
        """Sample at ``corner + cell * (column, row)``."""
        x0, y0, x1, y1 = nofit.bounds
        columns = range(*_between(x0 - corner[0], x1 - corner[0], self.cell))
        rows = range(*_between(y0 - corner[1], y1 - corner[1], self.cell))
        x = corner[0] + self.cell * np.array(columns)
        y = corner[1] + self.cell * np.array(rows)
        return DepthMap(rows.start, columns.start, _depths(nofit, x, y, self.ease, self.cell))


def put(onto: Grid, found: DepthMap, row: int, column: int, weight: float = 1.0) -> None:
    """Add a map `weight` times to a grid of positions, the standing shape being at (row, column)."""
    top, left = row + found.row, column + found.column
    rows, columns = onto.shape
    height, width = found.depth.shape
    a, b = (top if top > 0 else 0), min(top + height, rows)
    c, d = (left if left > 0 else 0), min(left + width, columns)
    if a < b and c < d:
        part = found.depth[a - top : b - top, c - left : d - left]
        into = onto[a:b, c:d]
        if weight == 1.0:
            into += part
        elif weight == -1.0:
            into -= part
        else:
            into += part * weight


def _between(low: float, high: float, cell: float) -> tuple[int, int]:
    first = math.floor(low / cell)
    return first, max(math.ceil(high / cell), first) + 1


def _depths(nofit: NoFit, x: Axis, y: Axis, ease: float, cell: float) -> Grid:
    """Depth at every point of a grid in steps of an eighth of a cell, which add up without rounding."""
    depth = np.zeros((len(y), len(x)), np.float32)
    normals, offsets = nofit.sides
    hulls = nofit.hulls
    lows = np.minimum.reduceat(hulls.points, hulls.starts)
    highs = np.maximum.reduceat(hulls.points, hulls.starts)
    firsts = np.searchsorted(x, lows[:, 0]), np.searchsorted(y, lows[:, 1])
    lasts = np.searchsorted(x, highs[:, 0]), np.searchsorted(y, highs[:, 1])
    for k, (start, count) in enumerate(zip(hulls.starts.tolist(), hulls.counts.tolist(), strict=True)):
        rows, columns = slice(firsts[1][k], lasts[1][k]), slice(firsts[0][k], lasts[0][k])
        n, limit = normals[start : start + count], offsets[start : start + count] - max(ease, SLACK_MM)
        inside = _inside(n, limit, x[columns], y[rows])
        steps = np.where(inside > 0, np.ceil(inside * (8 / cell)) / 8 + TOUCH, 0.0)
        np.maximum(depth[rows, columns], steps, out=depth[rows, columns], casting="same_kind")
    return depth if len(hulls.starts) == 1 else _steps_out(depth > 0)


def _steps_out(inside: NDArray[np.bool_]) -> Grid:
    """Count the steps out of a region, diagonal ones every other time: nearly the distance in cells."""
    depth = np.where(inside, TOUCH - 0.5, 0.0).astype(np.float32)
    left, straight = np.pad(inside, 1), True
    while left.any():
        depth += left[1:-1, 1:-1]
        inner = left.copy()
        inner[1:-1, 1:-1] &= left[:-2, 1:-1] & left[2:, 1:-1] & left[1:-1, :-2] & left[1:-1, 2:]
        if not straight:
            inner[1:-1, 1:-1] &= left[:-2, :-2] & left[2:, 2:] & left[:-2, 2:] & left[2:, :-2]
        left, straight = inner, not straight
    return depth


def _inside(normals: Points, limits: Axis, x: Axis, y: Axis) -> Axis:
    """Distance of every point of a grid to the nearest of some lines, negative beyond one."""
    level = limits[:, None] - normals[:, 1, None] * y
    inside = np.full((len(y), len(x)), np.inf)
    most = max(1_000_000 // max(inside.size, 1), 1)
    for first in range(0, len(limits), most):
        part = slice(first, first + most)
        along = normals[part, 0, None] * x
        np.minimum(inside, (level[part, :, None] - along[:, None, :]).min(axis=0), out=inside)
    return inside
