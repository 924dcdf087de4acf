"""Exact places from nearly right ones: pieces are pressed apart and together by linear programmes.

Around the present places, keeping clear of a convex hull is keeping beyond one of its sides. With
one side chosen for each hull nearby, separating a sheet's pieces (or shortening a roll) is a linear
programme (Li & Milenkovic 1995). Solved, moved and chosen anew a few times, it ends in a layout
that is exact to the placement grid.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nesting.geometry.contour import FLATTEN_MM, Points
from nesting.geometry.nofit import SLACK_MM, NoFit
from nesting.packing.filling import Spot
from nesting.packing.programme import Programme
from nesting.packing.room import Room
from nesting.packing.shapes import Shapes
from nesting.packing.stop import Stop
from nesting.units import GRID_MM

PER_ITERATION = 5e-5
"""Effort of one iteration of the linear solver."""

OVERLAP_COST = 1000.0
"""Cost of a millimetre of overlap, where a millimetre of roll costs 1."""

_ALIKE = 1e-9
"""Unit normals that differ by less are one."""

_SNAP_MM = 0.0015
"""Further distance asked for where rounding to the grid pressed two pieces together."""


@dataclass(frozen=True, slots=True)
class _Near:
    """Two pieces near each other, or (first is -1) an obstacle and a piece."""

    first: int
    second: int
    nofit: NoFit

    def way(self, at: Points) -> Points:
        """Way from the first piece's (0, 0) to the second's."""
        return np.asarray(at[self.second] - at[self.first] if self.first >= 0 else at[self.second])


class Compaction:
    """The pieces of one sheet, pressed into exact places.

    Attributes
    ----------
    spots
        Where the pieces are meant to lie, roughly.
    reach
        How far (mm) a piece may move in one step.
    """

    def __init__(self, room: Room, shapes: Shapes, spots: Sequence[Spot], reach: float) -> None:
        self.room, self.shapes, self.spots, self.reach = room, shapes, spots, reach
        self.boxes = np.array([_exact(room.positions(spot.shape)) for spot in spots])
        self.tops = np.array([spot.shape.bounds[3] for spot in spots])
        self.extents = self._extents()
        self.margins: dict[tuple[int, int], float] = {}

    def settle(self, stop: Stop, steps: int = 12) -> list[Spot] | None:
        """Find exact places, on a roll as low as they come; None if the overlap does not go away."""
        at = np.array([(spot.x, spot.y) for spot in self.spots])
        at = np.clip(at, self.boxes[:, :2], self.boxes[:, 2:])
        best, lowest, stuck = None, np.inf, 0
        for _ in range(steps):
            if stop.reached:
                break
            near = self._near(at, 2 * self.reach)
            at, overlap = self._step(at, near, stop)
            if overlap > 1e-6:
                stuck += 1
                if stuck > 5:
                    break
                continue
            snapped = self._snapped(at)
            top = float((snapped[:, 1] + self.tops).max())
            if not self._sound(snapped, near):
                continue
            if best is not None and top > lowest - 1e-3:
                break
            best, lowest = snapped, top
            if self.room.sheet.height is not None:
                break
        if best is None:
            return None
        return [Spot(s.shape, float(x), float(y)) for s, (x, y) in zip(self.spots, best, strict=True)]

    def _extents(self) -> NDArray[np.float64]:
        """Extents of the no-fit polygons of all pairs, or a little more, shape (n, n, 4)."""
        low, high = np.split(np.array([spot.shape.outline.bounds for spot in self.spots]), 2, axis=1)
        gaps = np.array([spot.shape.item.gap for spot in self.spots])
        apart = np.maximum(gaps[:, None], gaps)[..., None]
        apart = np.where(apart > 0, apart + FLATTEN_MM, 0.0)
        return np.concatenate([low[:, None] - high - apart, high[:, None] - low + apart], axis=2)

    def _step(self, at: Points, pairs: list[_Near], stop: Stop) -> tuple[Points, float]:
        """Solve for better places no further than `reach` away; give them and the overlap left."""
        low = np.maximum(self.boxes[:, :2], at - self.reach)
        high = np.minimum(self.boxes[:, 2:], at + self.reach)
        programme = Programme()
        for a, b in zip(low.ravel().tolist(), high.ravel().tolist(), strict=True):
            programme.variable(a, b)
        if self.room.sheet.height is None:
            end = programme.variable(0.0, math.inf, 1.0)
            for k, top in enumerate(self.tops.tolist()):
                programme.row([end, 2 * k + 1], [1.0, -1.0], top)
        owners, normals, limits = self._sides(pairs, at)
        overlaps: dict[int, int] = {}
        for owner, (nx, ny), limit in zip(owners.tolist(), normals.tolist(), limits.tolist(), strict=True):
            near = pairs[owner]
            if owner not in overlaps:
                overlaps[owner] = programme.variable(0.0, math.inf, OVERLAP_COST)
            x, first = 2 * near.second, 2 * near.first
            if near.first >= 0:
                programme.row([x, x + 1, first, first + 1, overlaps[owner]], [nx, ny, -nx, -ny, 1.0], limit)
            else:
                programme.row([x, x + 1, overlaps[owner]], [nx, ny, 1.0], limit)
        found = programme.solve(None if stop.reproducible else stop.left)
        stop.spend(PER_ITERATION * (programme.iterations + len(overlaps)))
        if found is None:
            return at, np.inf
        return found[: at.size].reshape(-1, 2), float(found[list(overlaps.values())].sum())

    def _sides(self, pairs: list[_Near], at: Points) -> tuple[NDArray[np.intp], Points, NDArray[np.float64]]:
        """For each hull within reach the side that the piece is furthest beyond, or least behind.

        Gives for each of them the index of its pair, the side's normal and how far to keep along it.
        """
        if not pairs:
            return np.empty(0, np.intp), np.empty((0, 2)), np.empty(0)
        sides, hulls = [near.nofit.sides for near in pairs], [near.nofit.hulls for near in pairs]
        lengths = np.array([len(offsets) for _, offsets in sides])
        counts = np.concatenate([rings.counts for rings in hulls])
        starts = np.cumsum(counts) - counts
        normals, offsets = np.concatenate([n for n, _ in sides]), np.concatenate([o for _, o in sides])
        ways = np.repeat([near.way(at) for near in pairs], lengths, axis=0)
        beyond = np.einsum("ij,ij->i", normals, ways) - offsets
        furthest = np.maximum.reduceat(beyond, starts)
        ranks = np.where(beyond == np.repeat(furthest, counts), np.arange(len(beyond)), len(beyond))
        chosen = np.minimum.reduceat(ranks, starts)
        movers = np.array([1 + (near.first >= 0) for near in pairs])
        owners = np.repeat(np.arange(len(pairs)), [len(rings.counts) for rings in hulls])
        near_enough = furthest < movers[owners] * self.reach * np.abs(normals[chosen]).sum(axis=1) + GRID_MM
        chosen, owners = chosen[near_enough], owners[near_enough]
        margins = np.array([self.margins.get((near.first, near.second), 0.0) for near in pairs])
        kept = _furthest(owners, normals[chosen], offsets[chosen])
        chosen, owners = chosen[kept], owners[kept]
        return owners, normals[chosen], offsets[chosen] + margins[owners]

    def _near(self, at: Points, reach: float) -> list[_Near]:
        """Pairs whose no-fit polygon's extent comes within `reach` of their way."""
        ways = at[None] - at[:, None]
        close = np.all(
            (ways > self.extents[..., :2] - reach) & (ways < self.extents[..., 2:] + reach), axis=2
        )
        shapes = [spot.shape for spot in self.spots]
        pairs = [
            _Near(i, j, self.shapes.nofit(shapes[i], shapes[j]))
            for i, j in np.argwhere(np.triu(close, 1)).tolist()
        ]
        return pairs + [
            _Near(-1 - k, j, nofit)
            for j, shape in enumerate(shapes)
            for k, nofit in enumerate(self.room.nofits(shape))
        ]

    def _snapped(self, at: Points) -> Points:
        """Round to the grid, inside the sheet where the grid allows."""
        low = np.ceil((self.boxes[:, :2] - SLACK_MM) / GRID_MM)
        high = np.floor((self.boxes[:, 2:] + SLACK_MM) / GRID_MM)
        return np.asarray(np.clip(np.round(at / GRID_MM), low, high) / 1000)

    def _sound(self, at: Points, pairs: list[_Near]) -> bool:
        """Tell whether nothing presses into anything; note the pairs that do."""
        sound = True
        for near in pairs:
            if near.nofit.depth(near.way(at)[None])[0] > SLACK_MM + 1e-9:
                key = near.first, near.second
                self.margins[key] = self.margins.get(key, 0.0) + _SNAP_MM
                sound = False
        return sound


def _furthest(owners: NDArray[np.intp], normals: Points, limits: NDArray[np.float64]) -> NDArray[np.intp]:
    """Choose, of a pair's sides that look the same way, the one furthest out, which implies the others."""
    ways = np.round(normals / _ALIKE).astype(np.int64)
    order = np.lexsort((-limits, ways[:, 1], ways[:, 0], owners))
    keys = np.column_stack([owners, ways])[order]
    first = np.append(True, (keys[1:] != keys[:-1]).any(axis=1))[: len(order)]
    return np.asarray(order[first])


def _exact(box: tuple[float, float, float, float] | None) -> tuple[float, float, float, float]:
    """Take the slack out of a box of positions again."""
    assert box is not None, "a piece that does not fit its sheet is never put there"
    x0, y0, x1, y1 = box
    x0, y0, x1, y1 = x0 + SLACK_MM, y0 + SLACK_MM, x1 - SLACK_MM, y1 - SLACK_MM
    return min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1)
