"""A search that lets pieces overlap and drives the overlap out: guided local search on rasters.

Every piece lies on the lattice, pairs of pieces carry weights, and a piece that overlaps is put
where the weighted sum of its overlaps is least, in any of its ways to lie and on any of the sheets.
Pairs that go on overlapping gain weight (Egeblad, Nielsen & Odgaard 2007; Umetani & others 2009).
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nesting.packing.rasters import Grid, Rasters, Where
from nesting.packing.room import Room
from nesting.packing.shapes import Shape
from nesting.packing.stop import Stop

_HEAVIEST = 1e6
"""Most a pair may weigh: a sum of such depths is far from what a map's single precision holds."""

_PER_MAP = 1.6e-5
"""Effort of adding one map."""

SETTLED = 5.0
"""Overlap in cells, all pairs together, from which exact places are worth looking for."""

_FEW = 12
"""With no more pieces than this on a sheet, their maps are added up each time."""


@dataclass(slots=True)
class _Field:
    """Unweighted overlap of a shape with all pieces of a sheet at every position."""

    grid: Grid
    moves: int = 0


class OverlapSearch:
    """The pieces, the sheets they may lie on, and the weights of their pairs.

    Attributes
    ----------
    ways
        For each piece the shapes it may take.
    where
        For each piece where it lies.
    depths
        Depth of overlap in cells of each pair of pieces, shape (n, n).
    hits
        Weighted depth in obstacles of each piece.
    """

    def __init__(
        self,
        rasters: Rasters,
        rooms: Sequence[Room],
        tops: Sequence[float],
        ways: Sequence[Sequence[Shape]],
        where: Sequence[Where],
        rng: np.random.Generator,
    ) -> None:
        self.rasters, self.rooms, self.tops, self.ways, self.rng = rasters, rooms, tops, ways, rng
        self.where = [self._held(at) for at in where]
        self.weights = np.ones((len(where), len(where)))
        self.depths = np.zeros((len(where), len(where)))
        self._empties: dict[tuple[int, int], Grid] = {}
        self._fields: dict[tuple[int, int], _Field] = {}
        self._alike = Counter(at[0].item.name for at in where)
        self._moved: list[tuple[int, Where]] = []
        self._places = np.array([(at[0].index, *at[1:]) for at in self.where])
        self.hits = np.zeros(len(where))
        for i in range(len(where)):
            self._measure(i)

    @property
    def overlap(self) -> float:
        """All depths added up; 0 when nothing overlaps."""
        return float(self.depths.sum() / 2 + self.hits.sum())

    def run(self, stop: Stop, patience: int) -> bool:
        """Search until nothing overlaps (True), or `patience` rounds bring no less overlap."""
        best, state, idle = self.overlap, list(self.where), 0
        while best > 0 and idle < patience and not stop.reached:
            self._round(stop)
            now = self.overlap
            idle += 1
            if now < best - 1e-6:
                best, state, idle = now, list(self.where), 0
            self._reweigh()
        for i, at in enumerate(state):
            self._move(i, at)
        return best == 0

    def _round(self, stop: Stop) -> None:
        """Give every overlapping piece, in random order, its least costly place."""
        for i in self.rng.permutation(np.flatnonzero(self._troubled())):
            if stop.reached:
                return
            if self.depths[i].any() or self.hits[i]:
                self._improve(int(i), stop)

    def _troubled(self) -> NDArray[np.bool_]:
        return np.asarray(self.depths.any(axis=1) | (self.hits > 0))

    def _improve(self, i: int, stop: Stop) -> None:
        best, where = float(self.depths[i] @ self.weights[i] + self.hits[i]) - 1e-6, None
        weights = self.weights[i].tolist()
        for sheet in range(len(self.rooms)):
            others = [j for j, at in enumerate(self.where) if at[1] == sheet]
            for shape in self.ways[i]:
                grid = self._costs(i, shape, sheet, others, weights, stop)
                low = float(grid.min(initial=np.inf))
                if low < best:
                    spots = (grid.ravel() == np.float32(low)).nonzero()[0]
                    spot = int(spots[self.rng.integers(len(spots))])
                    best, where = low, (shape, sheet, *divmod(spot, grid.shape[1]))
        if where is not None:
            self._move(i, where)

    def _costs(
        self, i: int, shape: Shape, sheet: int, others: list[int], weights: list[float], stop: Stop
    ) -> Grid:
        """Weighted overlap of piece `i` at every position of a sheet."""
        heavy = [j for j in others if weights[j] != 1.0]
        moved = (
            len(self.where) / self._alike[shape.item.name]
        )  # as a rule, since a piece like it was looked at
        if len(others) <= max(_FEW, 2 * moved + len(heavy)):
            grid = self._empty(shape, sheet).copy()
            terms = [(self.where[j], weights[j]) for j in others if j != i]
        else:
            grid = self._field(shape, sheet, stop).copy()
            terms = [(self.where[j], weights[j] - 1.0) for j in heavy]
            if self.where[i][1] == sheet:
                terms.append((self.where[i], -1.0))
        self.rasters.add(grid, shape, terms)
        stop.spend(_PER_MAP * (len(terms) + 1))
        return grid

    def _field(self, shape: Shape, sheet: int, stop: Stop) -> Grid:
        """Bring the field of a shape up to date with what has moved."""
        field = self._fields.get((shape.index, sheet))
        if field is None:
            field = _Field(self._empty(shape, sheet).copy())
            self._fields[shape.index, sheet] = field
            changes = [(at, 1.0) for at in self.where]
        else:
            first = dict(reversed(self._moved[field.moves :]))
            changed = [i for i in first if first[i] != self.where[i]]
            changes = [(first[i], -1.0) for i in changed] + [(self.where[i], 1.0) for i in changed]
        self.rasters.add(field.grid, shape, [change for change in changes if change[0][1] == sheet])
        stop.spend(_PER_MAP * len(changes))
        field.moves = len(self._moved)
        return field.grid

    def _empty(self, shape: Shape, sheet: int) -> Grid:
        """Give what the obstacles of a sheet cost a shape."""
        if (shape.index, sheet) not in self._empties:
            size = self.rasters.size(self.rooms[sheet], shape, self.tops[sheet])
            self._empties[shape.index, sheet] = self.rasters.obstacles(self.rooms[sheet], shape, *size)
        return self._empties[shape.index, sheet]

    def _held(self, at: Where) -> Where:
        """Move a place that sticks out of its sheet back inside."""
        shape, sheet, row, column = at
        rows, columns = self.rasters.size(self.rooms[sheet], shape, self.tops[sheet])
        return shape, sheet, max(min(row, rows - 1), 0), max(min(column, columns - 1), 0)

    def _move(self, i: int, where: Where) -> None:
        if where != self.where[i]:
            self._moved.append((i, self.where[i]))
            self.where[i] = where
            self._measure(i)

    def _measure(self, i: int) -> None:
        """Work out how deep piece `i` overlaps each other one."""
        shape, sheet, row, column = self.where[i]
        self._places[i] = shape.index, sheet, row, column
        kinds, sheets, rows, columns = self._places.T
        others = np.flatnonzero(sheets == sheet)
        depths = np.zeros(len(self.where))
        depths[others] = self.rasters.depths(shape, row, column, kinds[others], rows[others], columns[others])
        depths[i] = 0.0
        self.hits[i] = self._empty(shape, sheet)[row, column]
        self.depths[i], self.depths[:, i] = depths, depths

    def _reweigh(self) -> None:
        """Raise the weights of the pairs that overlap, the deepest most; let the others fade."""
        deepest = self.depths.max(initial=0.0)
        if deepest > 0:
            self.weights *= np.where(self.depths > 0, 1.2 + 0.8 * self.depths / deepest, 0.95)
            np.clip(self.weights, 1.0, _HEAVIEST, out=self.weights)
            self.weights[self.weights < 1.02] = 1.0
