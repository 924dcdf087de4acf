"""Doing with less stock: a sheet is left out, or a cheaper one taken, its pieces moved in with the rest."""

from collections import Counter
from collections.abc import Callable, Iterator, Sequence

import numpy as np

from nesting.packing.compaction import Compaction
from nesting.packing.concentration import Concentration
from nesting.packing.filling import Filling, Spot
from nesting.packing.overlap import SETTLED, OverlapSearch
from nesting.packing.problem import Problem
from nesting.packing.rasters import Rasters, Where
from nesting.packing.room import Room
from nesting.packing.shapes import Shape, Shapes
from nesting.packing.stop import Stop

_EASE = 0.3
"""Overlap let go on the lattice, in cells: more finds more, less is settled more surely."""

_PATIENCE, _MORE_PATIENCE, _MOST_PATIENCE = 60, 20, 400
"""Rounds without less overlap after which a try is given up: at first, more for each that failed, most."""

_PER_TRY = 1e-3
"""Effort of setting up one try."""

_FEW, _STUCK = 2, 30
"""More sheets than a few are emptied piece by piece, less and less often as so many steps on end fail."""

_AFRESH = 0.25
"""How often a try does not go on from where the last one with the same aim ended."""

Found = Callable[[list[Filling]], None]


class Thinning:
    """Improves a layout on sheets: more placed, or as much at less cost or on fewer sheets.

    Attributes
    ----------
    full
        Sheets that stay as they are.
    fillings
        The best layout so far of the others.
    concentration
        Empties sheets piece by piece, on a lattice of its own for a single sheet.
    """

    def __init__(
        self,
        problem: Problem,
        shapes: Shapes,
        rooms: Sequence[Room],
        full: Sequence[Filling],
        fillings: list[Filling],
        cell: float,
        one_cell: float,
        rng: np.random.Generator,
    ) -> None:
        self.problem, self.shapes, self.rooms, self.rng = problem, shapes, rooms, rng
        self.full, self.fillings = full, fillings
        self._ended: dict[tuple[object, ...], list[Where]] = {}
        self.rasters = Rasters(shapes, cell, _EASE * cell)
        self.concentration = Concentration(shapes, one_cell, rng)

    def run(self, stop: Stop, better: Found) -> None:
        """Go on until `stop` is reached or nothing is left to try, telling of each better layout."""
        failed, stuck = 0, 0
        while not stop.reached:
            stop.spend(_PER_TRY)
            aims = list(self._aims())
            if not aims:
                return
            if len(self.fillings) > _FEW and not self._missing() and self.rng.random() * _STUCK > stuck:
                stuck = 0 if self._concentrate(stop, better) else stuck + 1
                continue
            stuck //= 2
            rooms, extra = aims[min(int(self.rng.exponential(0.7)), len(aims) - 1)]
            found = self._try(rooms, extra, min(_PATIENCE + _MORE_PATIENCE * failed, _MOST_PATIENCE), stop)
            failed += 1
            if found is not None:
                self.fillings, failed = found, 0
                self._ended.clear()
                better(found)

    def _concentrate(self, stop: Stop, better: Found) -> bool:
        """Take one step to an emptier emptiest sheet."""
        found = self.concentration.step(self.fillings, stop)
        if found is None:
            return False
        fewer = len(found) < len(self.fillings)
        self.fillings = found
        self._ended.clear()
        if fewer:
            better(found)
        return True

    def _aims(self) -> Iterator[tuple[list[tuple[Room, list[Spot]]], list[Shape]]]:
        """Give sheets with what stays on them, and the shapes that must find a place besides.

        The likeliest to succeed come first: the most free area.
        """
        kept = [(filling.room, filling.spots) for filling in self.fillings]
        missing = self._missing()
        if missing:
            yield from self._with_more(kept, missing)
            return
        changes = []
        for k, (room, spots) in enumerate(kept):
            for other in [None, *self.rooms]:
                saving = self._cost(room) - self._cost(other)
                if saving > 1e-9 and (other is None or self._in_stock(other)):
                    rest = kept[:k] + kept[k + 1 :] + ([] if other is None else [(other, [])])
                    free = sum(r.area for r, _ in rest) - sum(s.shape.area for _, held in kept for s in held)
                    if free > -1e-6 and rest:
                        changes.append((free, k, rest, [spot.shape for spot in spots]))
        for _, _, rest, shapes in sorted(changes, key=lambda change: (-change[0], change[1])):
            yield rest, shapes

    def _with_more(
        self, kept: list[tuple[Room, list[Spot]]], missing: Counter[int]
    ) -> Iterator[tuple[list[tuple[Room, list[Spot]]], list[Shape]]]:
        opened: list[tuple[Room, list[Spot]]] = [(room, []) for room in self.rooms if self._in_stock(room)]
        free = sum(r.area for r, _ in kept + opened) - sum(s.shape.area for _, held in kept for s in held)
        for kind in sorted(missing, key=lambda kind: self.shapes.of_item[kind][0].area):
            fitting = [s for s in self.shapes.of_item[kind] if any(r.positions(s) for r, _ in kept + opened)]
            if fitting and fitting[0].area <= free:
                yield kept + opened, [fitting[0]]

    def _missing(self) -> Counter[int]:
        placed = Counter(
            spot.shape.item.name for filling in (*self.full, *self.fillings) for spot in filling.spots
        )
        left = {k: item.quantity - placed[item.name] for k, item in enumerate(self.problem.items)}
        return Counter({k: count for k, count in left.items() if count})

    def _cost(self, room: Room | None) -> float:
        if room is None:
            return 0.0
        return (room.sheet.cost or 0.0) if self.problem.objective == "cost" else 1.0

    def _in_stock(self, room: Room) -> bool:
        used = sum(filling.room is room for filling in (*self.full, *self.fillings))
        return room.sheet.quantity is None or used < room.sheet.quantity

    def _try(
        self, kept: list[tuple[Room, list[Spot]]], extra: list[Shape], patience: int, stop: Stop
    ) -> list[Filling] | None:
        rooms = [room for room, _ in kept]
        key = (*map(id, rooms), *(shape.item.name for shape in extra))
        where = self._ended.get(key)
        if where is None or self.rng.random() < _AFRESH:
            where = self._start(kept, extra)
            if where is None:
                return None
        tops = [room.extent[3] for room in rooms]
        ways = [self.shapes.ways(at[0]) for at in where]
        search = OverlapSearch(self.rasters, rooms, tops, ways, where, self.rng)
        clear = search.run(stop, patience)
        self._ended[key] = search.where
        if not clear and search.overlap > SETTLED:
            return None
        del self._ended[key]
        return self._settled(search.where, rooms, stop)

    def _start(self, kept: list[tuple[Room, list[Spot]]], extra: list[Shape]) -> list[Where] | None:
        """Leave everything where it lies, and put what is left over anywhere; None if it fits nowhere."""
        where = [at for k, (room, spots) in enumerate(kept) for at in self.rasters.where(spots, k, room)]
        for shape in extra:
            at = self._anywhere(shape, [room for room, _ in kept])
            if at is None:
                return None
            where.append(at)
        return where

    def _anywhere(self, shape: Shape, rooms: list[Room]) -> Where | None:
        """Pick any place, on any sheet that takes the item at all."""
        choices = [
            (way, k) for way in self.shapes.ways(shape) for k, r in enumerate(rooms) if r.positions(way)
        ]
        if not choices:
            return None
        way, k = choices[self.rng.integers(len(choices))]
        rows, columns = self.rasters.size(rooms[k], way, rooms[k].extent[3])
        return way, k, int(self.rng.integers(rows)), int(self.rng.integers(columns))

    def _settled(self, where: Sequence[Where], rooms: list[Room], stop: Stop) -> list[Filling] | None:
        fillings = []
        for k, room in enumerate(rooms):
            spots = self.rasters.spots([at for at in where if at[1] == k], room)
            found = Compaction(room, self.shapes, spots, 2 * self.rasters.cell).settle(stop) if spots else []
            if found is None:
                return None
            if found:
                fillings.append(Filling(room, self.shapes, found))
        return fillings
