"""A search that lets pieces overlap and drives the overlap out: guided local search on rasters.

Every piece lies on the lattice, pairs of pieces carry weights, and a piece that overlaps is put
where the weighted sum of its overlaps is least, in any of its ways to lie and on any of the sheets.
Pairs that go on overlapping gain weight (Egeblad, Nielsen & Odgaard 2007; Umetani & others 2009).
"""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from nesting.packing.rasters import Frame, Rasters, Where
from nesting.packing.room import Room
from nesting.packing.shapes import Shape
from nesting.packing.stop import Stop

if TYPE_CHECKING:
    from nesting.packing.compiled_fill import Ints
    from nesting.packing.compiled_overlap import Board, Singles

_PER_CELL = 1e-9
"""Effort of adding one cell of a map."""

_BUDGET = 50_000_000
"""Cells between two looks at the clock."""

FEW = 40
"""With no more pieces than this there are no fields: maps are added up each time."""

SETTLED = 5.0
"""Overlap in cells by their importance, all pairs together, from which exact places are worth looking for."""


class OverlapSearch:
    """The pieces, the sheets they may lie on, and the weights of their pairs.

    Parameters
    ----------
    rasters
        The depth maps.
    rooms, tops
        The sheets, and how far up each may be used.
    ways
        For each piece the shapes it may take.
    where
        For each piece where it lies.
    rng
        Chance.
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
        from nesting.packing.compiled_overlap import State, measure

        self.rasters, self.rng = rasters, rng
        self._sizes(rooms, tops, ways)
        self._ways = np.array([way.index for taken in ways for way in taken], np.int64)
        self._first = np.cumsum([0, *map(len, ways)])
        n = len(where)
        at = np.array([self._held(*at) for at in where], np.int64).reshape(n, 4)
        self.state = State(
            at, at.copy(), np.zeros((n, n)), np.ones((n, n)), np.zeros(n),
            np.zeros(n, np.int64), np.zeros(5, np.int64), np.full(1, np.inf), *self._fields(n),
        )  # fmt: skip
        self._see_all()
        board = self.board
        for i in range(n):
            measure(board, self.state, i)

    @property
    def overlap(self) -> float:
        """All depths added up; 0 when nothing overlaps."""
        from nesting.packing.compiled_overlap import overlap

        return overlap(self.state)

    @property
    def where(self) -> list[Where]:
        """For each piece where it lies."""
        shapes = self.rasters.shapes.all
        return [(shapes[shape], *place) for shape, *place in self.state.at.tolist()]

    def run(self, stop: Stop, patience: int) -> bool:
        """Search until nothing overlaps (True), or `patience` rounds bring no less overlap.

        Ends where the overlap was least.
        """
        from nesting.packing.compiled_overlap import CLEAR, GIVEN_UP, MAP_MISSING, measure, rounds

        came, board = None, self.board
        while came not in (CLEAR, GIVEN_UP) and not stop.reached:
            budget = min(_BUDGET, 1 + int(stop.left / _PER_CELL))
            came, cells = rounds(board, self.state, patience, budget, int(self.rng.integers(2**32)))
            stop.spend(_PER_CELL * cells)
            if came == MAP_MISSING:
                self._make(*self.state.tally[-2:].tolist())
                board = self.board
        self.state.at[:] = self.state.best
        for i in range(len(self.state.at)):
            measure(board, self.state, i)
        return came == CLEAR

    def _sizes(self, rooms: Sequence[Room], tops: Sequence[float], ways: Sequence[Sequence[Shape]]) -> None:
        """Count positions, and find the obstacles, of every shape that is allowed on every sheet."""
        shapes = {way.index: way for taken in ways for way in taken}
        count = len(self.rasters.frames), len(rooms)
        self.sizes = np.zeros((*count, 2), np.int64)
        self._blocked_first, self._blocked_count = np.zeros(count, np.int64), np.zeros(count, np.int64)
        blocked: list[Frame] = []
        for index, shape in shapes.items():
            for k, (room, top) in enumerate(zip(rooms, tops, strict=True)):
                self.sizes[index, k] = self.rasters.size(room, shape, top)
                frames = self.rasters.obstacles(room, shape)
                self._blocked_first[index, k], self._blocked_count[index, k] = len(blocked), len(frames)
                blocked += frames
        self._blocked = np.array(blocked, np.int64).reshape(-1, 5)

    def _fields(self, pieces: int) -> "tuple[Singles, Ints]":
        """Make room for the fields, if there are to be any; untouched memory costs nothing."""
        cells = self.sizes.prod(axis=2) * (pieces > FEW)
        self._field_first = (cells.cumsum().reshape(cells.shape) - cells)[:, : cells.any() * cells.shape[1]]
        seen = np.full((len(cells), pieces if cells.any() else 0, 4), -1)
        return np.zeros(int(cells.sum()), np.float32), seen

    @property
    def board(self) -> "Board":
        """What does not change while pieces move, with all maps made so far."""
        from nesting.packing.compiled_overlap import Board

        return Board(
            self._first, self._ways, self.sizes, self.rasters.frames, self.rasters.atlas,
            self._blocked_first, self._blocked_count, self._blocked, self._field_first,
        )  # fmt: skip

    def _see_all(self) -> None:
        """Make the maps of all pairs that lie on one sheet."""
        at = self.state.at
        for sheet in set(at[:, 1].tolist()):
            there = sorted(set(at[at[:, 1] == sheet, 0].tolist()))
            for static in there:
                for orbiting in there:
                    self._make(static, orbiting)

    def _make(self, static: int, orbiting: int) -> None:
        shapes = self.rasters.shapes.all
        self.rasters.between(shapes[static], shapes[orbiting])

    def _held(self, shape: Shape, sheet: int, row: int, column: int) -> tuple[int, int, int, int]:
        """Move a place that sticks out of its sheet back inside."""
        rows, columns = self.sizes[shape.index, sheet].tolist()
        return shape.index, sheet, max(min(row, rows - 1), 0), max(min(column, columns - 1), 0)
