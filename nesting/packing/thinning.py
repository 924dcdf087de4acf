"""Doing with less stock: a sheet is left out, or a cheaper one taken, its pieces moved in with the rest."""

import math
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from itertools import combinations, combinations_with_replacement
from random import Random

import numpy as np

from nesting.packing.concentration import Concentration
from nesting.packing.exchange import Exchange
from nesting.packing.filled_sheets import FilledSheets
from nesting.packing.filling import Filling, Spot, counted
from nesting.packing.overlap import SETTLED, OverlapSearch
from nesting.packing.priced_sheets import PricedSheets
from nesting.packing.problem import Problem
from nesting.packing.rasters import Rasters, Where
from nesting.packing.room import Room
from nesting.packing.shapes import Shape, Shapes
from nesting.packing.stop import Stop
from nesting.packing.twisting import Twisting, as_tried

_EASE = 0.3
"""Overlap let go on the lattice, in cells: more finds more, less is settled more surely."""

_PATIENCE, _MORE_PATIENCE, _MOST_PATIENCE = 60, 20, 400
"""Rounds without less overlap after which a try is given up: at first, more for each that failed, most."""

_PER_TRY = 1e-3
"""Effort of setting up one try."""

_FEW, _WHOLE = 2, 0.02
"""With more sheets than a few, one is not left out at once but for this share of the effort."""

_PAIRED = 8
"""Of so many sheets, where they differ, also two at a time are left out."""

_MORE_SHEETS = 3
"""How many more sheets may come for those that are left out."""

_CHOOSING = 0.02
"""Share of the time left for a choice among all filled sheets."""

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
    filled
        All sheets filled so far, to choose from.
    exchange, concentration, priced
        Change single sheets, empty them piece by piece, and draw new ones, on a lattice of their own.
    """

    def __init__(
        self,
        problem: Problem,
        shapes: Shapes,
        rooms: Sequence[Room],
        full: Sequence[Filling],
        fillings: list[Filling],
        filled: FilledSheets,
        cell: float,
        one_cell: float,
        rng: np.random.Generator,
    ) -> None:
        self.problem, self.shapes, self.rooms, self.rng = problem, shapes, rooms, rng
        self.full, self.fillings, self.filled = full, fillings, filled
        self._failed = 0
        self._ended: dict[tuple[object, ...], list[Where]] = {}
        self.rasters = Rasters(shapes, cell, _EASE * cell)
        self.exchange = Exchange(shapes, one_cell, rng)
        self.concentration = Concentration(self.exchange, rng)
        self.priced = PricedSheets(filled, self.exchange, Random(int(rng.integers(2**32))))

    def run(self, stop: Stop, better: Found) -> None:
        """Go on until `stop` is reached or nothing is left to try, telling of each better layout."""
        began, whole, chosen = stop.share_used, 0.0, 0
        while not stop.reached:
            stop.spend(_PER_TRY)
            if self.filled.many_since(chosen):
                if self._choose(stop):
                    better(self.fillings)
                chosen = self.filled.added
            before = stop.share_used
            many = len(self.fillings) > _FEW and whole >= _WHOLE * (before - began)
            if many and self._single(stop, better):
                continue
            if not self._several(stop, better):
                return
            whole += stop.share_used - before

    def _several(self, stop: Stop, better: Found) -> bool:
        """Try to do with less stock, all sheets searched together; False if there is nothing to try."""
        aims = list(self._aims())
        if not aims:
            return False
        rooms, extra = aims[min(int(self.rng.exponential(0.7)), len(aims) - 1)]
        patience = min(_PATIENCE + _MORE_PATIENCE * self._failed, _MOST_PATIENCE)
        found = self._try(rooms, extra, patience, stop)
        self._failed += 1
        if found is not None:
            self.filled.add(found)
            self._take(found)
            self._failed = 0
            better(found)
        return True

    def _single(self, stop: Stop, better: Found) -> bool:
        """Take a small step, a single sheet or two searched; False if there is none to take.

        The emptier the emptiest sheet, the rather it is emptied further; else new ones are drawn by prices.
        """
        if self._missing() or self.rng.random() > (1 - _least(self.fillings)) ** 5:
            return self.priced.step(stop)
        found = self.concentration.step(self.fillings, stop)
        if found is None:
            return self.priced.step(stop)
        self.filled.add(found)
        fewer = len(found) < len(self.fillings)
        self._take(found)
        if fewer:
            better(found)
        return True

    def _take(self, fillings: list[Filling]) -> None:
        """Go on from another layout."""
        self.fillings = fillings
        self._ended.clear()

    def _choose(self, stop: Stop) -> bool:
        """Choose among all sheets that have been filled so far; tell whether that is better."""
        if not self.filled.promising(self.fillings, stop):
            return False
        for choice in (self._covered, self._fixed, self._nearly):
            found = choice(stop)
            better = self._rank(found) < self._rank(self.fillings)
            emptier = self._rank(found) == self._rank(self.fillings) and _least(found) < _least(self.fillings)
            if better or emptier:
                self._take(found)
            if better or self._missing():
                return better
        return False

    def _covered(self, stop: Stop) -> list[Filling]:
        return self.filled.choose(self.fillings, stop, _CHOOSING * stop.left)

    def _fixed(self, stop: Stop) -> list[Filling]:
        return self.priced.fixed(self.filled.goal(self.fillings), stop) or self.fillings

    def _nearly(self, stop: Stop) -> list[Filling]:
        """Choose sheets that leave little for one more, which is to be emptied by and by."""
        nearly = self.filled.nearly(self.fillings, stop, _CHOOSING * stop.left)
        return self.fillings if nearly is None else self._with_rest(nearly, stop)

    def _with_rest(self, fillings: list[Filling], stop: Stop) -> list[Filling]:
        """Put what some sheets do not hold on one more, or else give what there was."""
        missing = self._missing(fillings)
        rest = [ways[0] for k, ways in enumerate(self.shapes.of_item) for _ in range(missing[k])]
        if not rest:
            return fillings
        for room in sorted(self.rooms, key=self.filled.cost):
            if self._in_stock(room, fillings) and sum(shape.area for shape in rest) <= room.area:
                found = self.exchange.done(Filling(room, self.shapes), [], rest, _PATIENCE, stop)
                if found is not None:
                    return [*fillings, found]
        return self.fillings

    def _rank(self, fillings: Sequence[Filling]) -> tuple[int, float]:
        """Give what a layout is judged by, less being better: how few are placed, and the cost."""
        placed = sum(len(filling.spots) for filling in fillings)
        return -placed, round(sum(self.filled.cost(filling.room) for filling in fillings), 9)

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
        for gone in self._leavable(len(kept)):
            rest = [kept[k] for k in range(len(kept)) if k not in gone]
            cost = sum(self.filled.cost(kept[k][0]) for k in gone)
            for others in self._cheaper(cost, len(gone), gone):
                rooms = rest + [(other, list[Spot]()) for other in others]
                free = sum(r.area for r, _ in rooms) - sum(s.shape.area for _, held in kept for s in held)
                if free > -1e-6 and rooms:
                    moved = [spot.shape for k in gone for spot in kept[k][1]]
                    changes.append((free, gone, rooms, moved))
        for _, _, rooms, shapes in sorted(changes, key=lambda change: (-change[0], change[1])):
            yield rooms, shapes

    def _leavable(self, count: int) -> Iterator[tuple[int, ...]]:
        """List the sheets that may be left out: single ones and, if stock differs, pairs of a few."""
        yield from ((k,) for k in range(count))
        if len(self.rooms) > 1:
            yield from combinations(range(min(count, _PAIRED)), 2)

    def _cheaper(self, cost: float, count: int, gone: tuple[int, ...]) -> Iterator[tuple[Room, ...]]:
        """List sheets, a few more than before at the most, that cost less than those which are left out."""
        used = Counter(id(filling.room) for filling in self.full)
        used.update(id(filling.room) for k, filling in enumerate(self.fillings) if k not in gone)
        for size in range(count + 1 + _MORE_SHEETS):
            for others in combinations_with_replacement(self.rooms, size):
                wanted = used + Counter(map(id, others))
                there = all(
                    room.sheet.quantity is None or wanted[id(room)] <= room.sheet.quantity for room in others
                )
                if there and sum(map(self.filled.cost, others)) < cost - 1e-9:
                    yield others

    def _with_more(
        self, kept: list[tuple[Room, list[Spot]]], missing: Counter[int]
    ) -> Iterator[tuple[list[tuple[Room, list[Spot]]], list[Shape]]]:
        opened: list[tuple[Room, list[Spot]]] = [
            (room, []) for room in self.rooms if self._in_stock(room, self.fillings)
        ]
        free = sum(r.area for r, _ in kept + opened) - sum(s.shape.area for _, held in kept for s in held)
        for kind in sorted(missing, key=lambda kind: self.shapes.of_item[kind][0].area):
            fitting = [s for s in self.shapes.of_item[kind] if any(r.positions(s) for r, _ in kept + opened)]
            if fitting and fitting[0].area <= free:
                yield kept + opened, [fitting[0]]

    def _missing(self, fillings: Sequence[Filling] | None = None) -> Counter[int]:
        """Count what these do not hold, or the best layout so far."""
        held = self.fillings if fillings is None else fillings
        placed = counted((*self.full, *held))
        left = {k: item.quantity - placed[item.name] for k, item in enumerate(self.problem.items)}
        return Counter({k: count for k, count in left.items() if count})

    def _in_stock(self, room: Room, fillings: Sequence[Filling]) -> bool:
        used = sum(filling.room is room for filling in (*self.full, *fillings))
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
        where = [
            at
            for k, (room, spots) in enumerate(kept)
            for at in self.rasters.where(as_tried(spots, self.shapes), k, room)
        ]
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
            found = Twisting(room, self.shapes).settled(spots, 2 * self.rasters.cell, stop) if spots else []
            if found is None:
                return None
            if found:
                fillings.append(Filling(room, self.shapes, found))
        return fillings


def _least(fillings: Sequence[Filling]) -> float:
    """Give how full the emptiest sheet is."""
    return min((filling.area / filling.room.area for filling in fillings), default=math.inf)
