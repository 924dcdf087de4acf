"""Doing with less stock: a sheet is left out, or a cheaper one taken, its pieces moved in with the rest."""

from collections import Counter
from collections.abc import Callable, Iterator, Sequence

import numpy as np

from nesting.packing.compaction import Compaction
from nesting.packing.filling import Filling, Spot
from nesting.packing.overlap import OverlapSearch
from nesting.packing.problem import Problem
from nesting.packing.rasters import Rasters, Where
from nesting.packing.room import Room
from nesting.packing.shapes import Shape, Shapes
from nesting.packing.stop import Stop

_EASES = (0.4, 0.2)
"""Overlap let go on the lattice, in cells, from try to try: more finds more, less is settled more surely."""

_PATIENCE = 80
"""Rounds without less overlap after which a try is given up."""

Found = Callable[[list[Filling]], None]


class Thinning:
    """Improves a layout on sheets: more placed, or as much at less cost or on fewer sheets.

    Attributes
    ----------
    fillings
        The best layout so far.
    """

    def __init__(
        self,
        problem: Problem,
        shapes: Shapes,
        rooms: Sequence[Room],
        fillings: list[Filling],
        cell: float,
        rng: np.random.Generator,
    ) -> None:
        self.problem, self.shapes, self.rooms, self.rng = problem, shapes, rooms, rng
        self.fillings = fillings
        self.rasters = [Rasters(shapes, cell, ease * cell) for ease in _EASES]

    def run(self, stop: Stop, better: Found) -> None:
        """Go on until `stop` is reached or nothing is left to try, telling of each better layout."""
        tries = 0
        while not stop.reached:
            aims = list(self._aims())
            if not aims:
                return
            rooms, extra = aims[min(int(self.rng.exponential(1.0)), len(aims) - 1)]
            found = self._try(rooms, extra, self.rasters[tries % len(_EASES)], stop)
            tries += 1
            if found is not None:
                self.fillings = found
                better(found)

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
        placed = Counter(spot.shape.item.name for filling in self.fillings for spot in filling.spots)
        left = {k: item.quantity - placed[item.name] for k, item in enumerate(self.problem.items)}
        return Counter({k: count for k, count in left.items() if count})

    def _cost(self, room: Room | None) -> float:
        if room is None:
            return 0.0
        return (room.sheet.cost or 0.0) if self.problem.objective == "cost" else 1.0

    def _in_stock(self, room: Room) -> bool:
        used = sum(filling.room is room for filling in self.fillings)
        return room.sheet.quantity is None or used < room.sheet.quantity

    def _try(
        self, kept: list[tuple[Room, list[Spot]]], extra: list[Shape], rasters: Rasters, stop: Stop
    ) -> list[Filling] | None:
        rooms = [room for room, _ in kept]
        where = [at for k, (room, spots) in enumerate(kept) for at in rasters.where(spots, k, room)]
        for shape in extra:
            at = self._anywhere(shape, rooms, rasters)
            if at is None:
                return None
            where.append(at)
        tops = [room.extent[3] for room in rooms]
        ways = [self.shapes.ways(at[0]) for at in where]
        search = OverlapSearch(rasters, rooms, tops, ways, where, self.rng)
        return self._settled(search.where, rooms, rasters, stop) if search.run(stop, _PATIENCE) else None

    def _anywhere(self, shape: Shape, rooms: list[Room], rasters: Rasters) -> Where | None:
        """Pick any place, on any sheet that takes the item at all."""
        choices = [
            (way, k) for way in self.shapes.ways(shape) for k, r in enumerate(rooms) if r.positions(way)
        ]
        if not choices:
            return None
        way, k = choices[self.rng.integers(len(choices))]
        rows, columns = rasters.size(rooms[k], way, rooms[k].extent[3])
        return way, k, int(self.rng.integers(rows)), int(self.rng.integers(columns))

    def _settled(
        self, where: Sequence[Where], rooms: list[Room], rasters: Rasters, stop: Stop
    ) -> list[Filling] | None:
        fillings = []
        for k, room in enumerate(rooms):
            spots = rasters.spots([at for at in where if at[1] == k], room)
            found = Compaction(room, self.shapes, spots, 2 * rasters.cell).settle(stop) if spots else []
            if found is None:
                return None
            if found:
                fillings.append(Filling(room, self.shapes, found))
        return fillings
