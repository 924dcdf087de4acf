"""No-fit polygons sampled on a lattice: how deep each position presses one shape into another.

The lower left corner of every shape's extent sits on the lattice, so that a shape lies flush against
the left and lower side of a sheet, and the way between two shapes is a whole number of cells. The same
depth counts more between large shapes than between small ones, which find another place sooner (a weight
by size as Gardeyn, Vanden Berghe & Wauters 2025 have one, from memory).
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

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

_LEVEL = 1e-12
"""A side whose normal has no more than this across is level."""

Frame = tuple[int, int, int, int, int]
"""Row, column, height and width of a map, and where it starts among the entries of all."""

_FIRST_CELLS = 100_000
"""Entries to make room for at first."""


@dataclass(frozen=True, eq=False, slots=True)
class DepthMap:
    """Depth in cells, by its importance.

    Entry (k, l) is for ``(row + k, column + l)`` cells from the standing shape's corner to the other's.
    """

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
    frames
        For a standing and an orbiting shape the row, column, height and width of their map and where
        it starts in `atlas`, (shapes, shapes, 5); a height of 0 means that it has not been made.
    """

    def __init__(self, shapes: Shapes, cell: float, ease: float) -> None:
        self.shapes, self.cell, self.ease = shapes, cell, ease
        count = len(shapes.all)
        self.frames = np.zeros((count, count, 5), np.int64)
        self._atlas = np.zeros(_FIRST_CELLS, np.float32)
        self._used = 0
        self._obstacles: dict[tuple[int, int], list[Frame]] = {}
        self._mean_area = float(np.mean([ways[0].area for ways in shapes.of_item]))

    @property
    def atlas(self) -> NDArray[np.float32]:
        """The entries of all maps, one after the other; a new array when it has grown."""
        return self._atlas

    def between(self, static: Shape, orbiting: Shape) -> DepthMap:
        """Give the depth of `orbiting` in `static`, by the way from the one's corner to the other's."""
        frame = self.frames[static.index, orbiting.index]
        if not frame[2]:
            corner = static.bounds[0] - orbiting.bounds[0], static.bounds[1] - orbiting.bounds[1]
            found = self._sampled(self.shapes.nofit(static, orbiting), corner)
            rows, columns = found.depth.shape
            depth = found.depth * self.importance(static, orbiting)
            back = DepthMap(1 - found.row - rows, 1 - found.column - columns, depth[::-1, ::-1])
            self.frames[orbiting.index, static.index] = self._kept(back)
            self.frames[static.index, orbiting.index] = self._kept(replace(found, depth=depth))
        row, column, height, width, start = frame.tolist()
        return DepthMap(row, column, self._atlas[start : start + height * width].reshape(height, width))

    def importance(self, one: Shape, other: Shape) -> np.float32:
        """Tell what a cell of depth counts between two shapes, in quarters, which add up without rounding.

        It is the root of the geometric mean of their areas over the mean area of all items.
        """
        size = math.sqrt(one.area * other.area) / self._mean_area
        return np.float32(max(round(4 * math.sqrt(size)), 1) / 4)

    def _kept(self, found: DepthMap) -> Frame:
        start, end = self._used, self._used + found.depth.size
        if end > len(self._atlas):
            self._atlas = np.concatenate([self._atlas, np.zeros(max(len(self._atlas), end), np.float32)])
        self._atlas[start:end] = found.depth.ravel()
        self._used = end
        return found.row, found.column, *found.depth.shape, start

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

    def obstacles(self, room: Room, shape: Shape) -> list[Frame]:
        """Give the maps of a sheet's obstacles, by the way from its lower left corner to the shape's."""
        key = id(room), shape.index
        if key not in self._obstacles:
            corner = room.extent[0] - shape.bounds[0], room.extent[1] - shape.bounds[1]
            self._obstacles[key] = [self._kept(self._sampled(n, corner)) for n in room.nofits(shape)]
        return self._obstacles[key]

    def _sampled(self, nofit: NoFit, corner: tuple[float, float]) -> DepthMap:
        """Sample at ``corner + cell * (column, row)``."""
        x0, y0, x1, y1 = nofit.bounds
        columns = range(*_between(x0 - corner[0], x1 - corner[0], self.cell))
        rows = range(*_between(y0 - corner[1], y1 - corner[1], self.cell))
        x = corner[0] + self.cell * np.array(columns)
        y = corner[1] + self.cell * np.array(rows)
        return DepthMap(rows.start, columns.start, _depths(nofit, x, y, self.ease, self.cell))


def _between(low: float, high: float, cell: float) -> tuple[int, int]:
    first = math.floor(low / cell)
    return first, max(math.ceil(high / cell), first) + 1


def _depths(nofit: NoFit, x: Axis, y: Axis, ease: float, cell: float) -> Grid:
    """Depth at every point of a grid in steps of an eighth of a cell, which add up without rounding."""
    normals, offsets = nofit.sides
    limits = offsets - max(ease, SLACK_MM)
    if len(nofit.hulls.starts) > 1:
        return _steps_out(_covered(normals, limits, nofit.hulls.starts, x, y))
    inside = _inside(normals, limits, x, y)
    return np.where(inside > 0, np.ceil(inside * (8 / cell)) / 8 + TOUCH, 0.0).astype(np.float32)


def _covered(normals: Points, limits: Axis, starts: Index, x: Axis, y: Axis) -> NDArray[np.bool_]:
    """Tell which points of a grid lie strictly inside one of some convex polygons, given by their sides.

    Each polygon covers a stretch of every row, from the furthest left side to the nearest right one.
    """
    across, rest = normals[:, 0, None], limits[:, None] - normals[:, 1, None] * y
    level = np.abs(across) < _LEVEL
    ends = rest / np.where(level, 1.0, across)
    beyond = np.where(rest > 0, np.inf, -np.inf)  # a level side has the whole row inside, or none of it
    right = np.minimum.reduceat(np.where(level, beyond, np.where(across > 0, ends, np.inf)), starts)
    left = np.maximum.reduceat(np.where(~level & (across < 0), ends, -np.inf), starts)
    first, last = np.searchsorted(x, left, side="right"), np.searchsorted(x, right, side="left")
    row = np.broadcast_to(np.arange(len(y)), first.shape)
    full = first < last
    changes = np.zeros((len(y), len(x) + 1), np.int32)
    np.add.at(changes, (row[full], first[full]), 1)
    np.add.at(changes, (row[full], last[full]), -1)
    return np.asarray(changes.cumsum(axis=1)[:, :-1] > 0)


def _steps_out(inside: NDArray[np.bool_]) -> Grid:
    """Count the steps out of a region, diagonal ones every other time: nearly the distance in cells.

    The region is one whole number, a bit a cell, with a free column between its rows; a step is taken by
    shifting it onto itself.
    """
    rows, columns = inside.shape
    width = columns + 1
    packed = np.packbits(np.pad(inside, ((0, 0), (0, 1))))
    left, layers, straight = int.from_bytes(packed.tobytes(), "big"), [], True
    while left:
        layers.append(left.to_bytes(len(packed), "big"))
        inner = left & left << 1 & left >> 1 & left << width & left >> width
        if not straight:
            inner &= left << width + 1 & left << width - 1 & left >> width + 1 & left >> width - 1
        left, straight = inner, not straight
    bits = np.frombuffer(b"".join(layers), np.uint8).reshape(len(layers), len(packed))
    steps = np.unpackbits(bits, axis=1, count=rows * width).sum(axis=0, dtype=np.float32)
    steps[steps > 0] += TOUCH - 0.5
    return np.ascontiguousarray(steps.reshape(rows, width)[:, :columns])


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
