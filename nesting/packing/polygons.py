"""The engine for any footprint: exact no-fit polygons, every outline, gap, turn and sheet."""

import math
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import product

import numpy as np

from nesting.packing.bounds import bound_for
from nesting.packing.boxed import boxed_fillings
from nesting.packing.filled_sheets import FilledSheets
from nesting.packing.filling import Filling, Spot, counted
from nesting.packing.problem import Problem, Sheet
from nesting.packing.result import Layout, Placement
from nesting.packing.room import Room
from nesting.packing.seamless import Seamless
from nesting.packing.shapes import Shapes
from nesting.packing.squeeze import Squeeze, reached
from nesting.packing.stop import Stop
from nesting.packing.thinning import Thinning
from nesting.packing.twisting import Twisting, is_free
from nesting.units import GRID_MM, snap

Better = Callable[[Sequence[Filling]], None]

CELLS, CELLS_EACH, SHEETS_CELLS, FEWEST_CELLS = 12000, 250, 24000, 3000
"""Cells of the lattice: most on a sheet, or so many for each piece if that is more, most on all sheets
together, and fewest on a sheet all the same."""

MOST_PIECES = 1500
"""More pieces than this are only placed one by one."""

_SEAMLESS = 0.15
"""Share of the time left for finding each sheet that is filled without waste."""

_WHOLE = 0.02
"""Share of the time for filling a roll without waste."""

_BOXED = 0.05
"""Share of the time for packing bounding boxes, lest outlines ever need more sheets than these."""

_PLACING, _LATE = 0.9, 0.5
"""Most of the time for placing all piece by piece, and the share of what is then left for packing boxes
instead: those of the rest, and those of all.
"""

_ROUNDS, _TWISTING = 4, 0.2
"""How often pieces whose turn is free are turned a little, and the most time for it, a share of a round."""

_STARTS, _STARTING = 5, 0.1
"""In how many orders each sort of sheet is filled to choose from, and the share of the time for that."""

_SHUFFLED = 0.5
"""By how much of its area, more or less, an item may come sooner or later in such an order."""

_PER_TRY = 0.004
"""Effort of looking for a shape's best place once."""


class PolygonEngine:
    """Places any footprints on sheets of any outline.

    Items are put one by one, large ones first, each at its lowest exact place. Then pieces are
    allowed to overlap on less length or fewer sheets and sorted out again, until time is up.
    """

    name = "polygons"

    def refusal(self, problem: Problem) -> str | None:  # noqa: ARG002
        """Take every problem."""
        return None

    def pack(self, problem: Problem, stop: Stop, seed: int, report: Callable[[Layout], None]) -> Layout:
        """Pack until the bound is met or `stop` is reached, reporting each better layout."""
        search = _Search(problem, stop)
        rng = np.random.default_rng(seed)
        best, proven = None, False

        def better(fillings: Sequence[Filling]) -> None:
            nonlocal best, proven
            layout = search.layout(fillings)
            if layout.better_than(best):
                best, proven = layout, layout.proven
                report(layout)

        fillings, boxed = search.first(seed)
        better(fillings)
        assert best is not None
        if boxed is not None and search.layout(boxed).better_than(best):
            fillings = boxed
            better(fillings)
        limited = replace(stop, cancelled=lambda: stop.cancelled() or proven)
        if fillings and search.count <= MOST_PIECES:
            search.improve(fillings, rng, limited, better)
        stop.spent = limited.spent
        return best


class _Search:
    """One problem's shapes and rooms, and the making of layouts from orders of its items.

    Attributes
    ----------
    late
        Whether there was no time for some of the items last put in order.
    """

    def __init__(self, problem: Problem, stop: Stop) -> None:
        self.problem, self.stop, self.late = problem, stop, False
        self.shapes = Shapes(problem)
        reach = sum(
            item.quantity * (max(way.bounds[3] - way.bounds[1] for way in ways) + item.gap + 1)
            for item, ways in zip(problem.items, self.shapes.of_item, strict=True)
        )
        self.rooms = [
            Room(sheet, reach + 2 * sheet.margin + sum(k.bounds[3] for k in sheet.keep_outs))
            for sheet in problem.sheets
        ]

    @property
    def count(self) -> int:
        """How many pieces are wanted."""
        return self.problem.quantity

    @property
    def wanted(self) -> Counter[str]:
        """How many are wanted of each item."""
        return Counter({item.name: item.quantity for item in self.problem.items})

    def order(self, wanted: Counter[str], rng: np.random.Generator | None = None) -> list[int]:
        """Give the items, each as often as it is wanted, large ones first, more or less so if at random."""
        items, areas = self.problem.items, np.array([ways[0].area for ways in self.shapes.of_item])
        if rng is not None:
            areas *= 1 + _SHUFFLED * rng.uniform(-1, 1, len(areas))
        kinds = sorted(range(len(items)), key=lambda k: -areas[k])
        return [k for k in kinds for _ in range(wanted[items[k].name])]

    def first(self, seed: int) -> tuple[list[Filling], list[Filling] | None]:
        """Place everything piece by piece and perhaps as boxes; without time for the rest, that as boxes."""
        order = self.order(self.wanted)
        fillings = self.fill(order, stop=self.stop.part(_PLACING))
        if not self.late or self.stop.cancelled():
            return fillings, self.boxed(fillings, seed)
        rest, whole = self._boxed(seed, _LATE, fillings), self._boxed(seed, _LATE)
        return ([*fillings, *rest] if rest else self.fill(order)), whole

    def improve(
        self,
        fillings: list[Filling],
        rng: np.random.Generator,
        stop: Stop,
        better: Better,
    ) -> None:
        """Shorten the roll or do with less stock."""
        if self.problem.objective == "length":
            room = self.rooms[0]
            whole = self._without_waste(self.layout(fillings).bound, rng, stop)
            if whole is not None:
                better([Filling(room, self.shapes, whole)])
                return
            self._shorten(fillings, rng, stop, better)
            return
        if stop.reached:
            return
        full, rest = self._seamless(fillings, rng, stop)
        better(full + rest)
        filled = FilledSheets(self.problem, self.shapes, self.rooms, full)
        rest = self._chosen(full, rest, filled, rng, stop)
        better(full + rest)
        if rest and not stop.reached:
            cells = self.cell(rest), self.cell(rest[:1])
            thinning = Thinning(self.problem, self.shapes, self.rooms, full, rest, filled, *cells, rng)
            thinning.run(stop, lambda found: better(full + found))

    def _shorten(
        self, fillings: Sequence[Filling], rng: np.random.Generator, stop: Stop, better: Better
    ) -> None:
        """Shorten a roll; where turns are free, pieces are turned a little now and then."""
        room = self.rooms[0]
        squeeze = Squeeze(self.shapes, room, fillings[0].spots, self.cell(fillings), rng)
        free = any(is_free(ways[0]) for ways in self.shapes.of_item)
        rounds, twisting, twisted = _ROUNDS if free else 1, Twisting(room, self.shapes), fillings[0].spots
        for n in range(rounds):
            part = stop.part(1 / (rounds - n))
            searching = part.part(1 - _TWISTING * free)
            squeeze.run(searching, lambda spots: better([Filling(room, self.shapes, spots)]))
            part.spend(searching.spent)
            if free and squeeze.spots is not twisted:
                twisted = squeeze.spots
                better([Filling(room, self.shapes, twisting.shortened(twisted, part))])
            stop.spend(part.spent)

    def _without_waste(self, length: float, rng: np.random.Generator, stop: Stop) -> list[Spot] | None:
        """Fill a roll of this length, of the least area that could hold everything."""
        height = math.ceil(length / GRID_MM - 1e-6) * GRID_MM
        room = Room(replace(self.problem.sheets[0], height=height), 0.0)
        part = stop.part(_WHOLE)
        spots = Seamless(self.shapes, room, rng).fill(self.wanted, part)
        stop.spend(part.spent)
        return spots if spots is not None and len(spots) == self.count else None

    def _seamless(
        self, fillings: list[Filling], rng: np.random.Generator, stop: Stop
    ) -> tuple[list[Filling], list[Filling]]:
        """Fill sheets without waste as long as that can be done, and the others as before."""
        left = self.wanted
        full: list[Filling] = []
        for room in sorted(self.rooms, key=lambda room: self._preference(room.sheet)):
            seamless, stock = Seamless(self.shapes, room, rng), room.sheet.quantity
            while stock is None or sum(filling.room is room for filling in full) < stock:
                part = stop.part(_SEAMLESS)
                spots = seamless.fill(left, part)
                stop.spend(part.spent)
                if spots is None:
                    break
                full.append(Filling(room, self.shapes, spots))
                left -= counted(full[-1:])
        found = self.fill(self.order(left), full)
        if not full or self.layout(fillings).better_than(self.layout(found)):
            return [], fillings
        return full, found[len(full) :]

    def _chosen(
        self,
        full: list[Filling],
        rest: list[Filling],
        filled: FilledSheets,
        rng: np.random.Generator,
        stop: Stop,
    ) -> list[Filling]:
        """Fill sheets in several orders, beginning with each sort of stock, and choose among all of them."""
        left = self.wanted - counted(full)
        part = stop.part(_STARTING)
        filled.add(rest)
        for n, first in product(range(_STARTS), self.rooms):
            order = self.order(left, rng if n else None)
            filled.add(self.fill(order, full, first, part)[len(full) :])
        found = filled.choose(rest, part, _STARTING * stop.left)
        stop.spend(part.spent)
        return found if self.layout(full + found).better_than(self.layout(full + rest)) else rest

    def boxed(self, fillings: Sequence[Filling], seed: int) -> list[Filling] | None:
        """Pack bounding boxes instead; None if they have more area than the sheets that are used."""
        area = sum(
            item.quantity * (x1 - x0) * (y1 - y0)
            for item, (way, *_) in zip(self.problem.items, self.shapes.of_item, strict=True)
            for x0, y0, x1, y1 in [way.bounds]
        )
        roll, used = self.problem.objective == "length", sum(filling.room.area for filling in fillings)
        if roll or area > used or self.count > MOST_PIECES or self.stop.reached:
            return None
        return self._boxed(seed, _BOXED)

    def _boxed(self, seed: int, share: float, beside: Sequence[Filling] = ()) -> list[Filling] | None:
        part = self.stop.part(share)
        found = boxed_fillings(self.problem, self.shapes, self.rooms, seed, part, beside)
        self.stop.spend(part.spent)
        return found

    def cell(self, fillings: Sequence[Filling]) -> float:
        """Choose the width of a lattice's cell."""
        roll = self.problem.objective == "length"
        area = max(
            filling.room.sheet.width * reached(filling.spots) if roll else filling.room.area
            for filling in fillings
        )
        most = max(CELLS, CELLS_EACH * max(len(filling.spots) for filling in fillings))
        cells = min(max(SHEETS_CELLS // len(fillings), FEWEST_CELLS), most)
        cell = math.sqrt(area / cells)
        grid = self.shapes.grid()
        return grid / round(grid / cell) if grid > cell else cell

    def fill(
        self,
        order: Sequence[int],
        full: Sequence[Filling] = (),
        first: Room | None = None,
        stop: Stop | None = None,
    ) -> list[Filling]:
        """Put the items in this order, each on the first sheet with a place, beside sheets that are full.

        New sheets are of the sort that comes `first`, if there are any left, or of the best. With a `stop` it
        may end early, items left over.
        """
        fillings = list(full)
        hopeless: set[tuple[int, int]] = set()
        self.late = False
        for kind in order:
            if self.stop.cancelled() if stop is None else stop.reached:
                self.late = True
                break
            before = self.stop.spent
            for n, filling in enumerate(fillings[len(full) :]):
                if (n, kind) not in hopeless and self._put(filling, kind):
                    break
                hopeless.add((n, kind))
            else:
                self._open(fillings, kind, first)
            if stop is not None:
                stop.spend(self.stop.spent - before)
        return fillings

    def _open(self, fillings: list[Filling], kind: int, first: Room | None) -> None:
        """Start the best sheet that takes an item of this kind, if one is left."""
        for room in sorted(self.rooms, key=lambda room: (room is not first, self._preference(room.sheet))):
            used = sum(filling.room is room for filling in fillings)
            if room.sheet.quantity is None or used < room.sheet.quantity:
                filling = Filling(room, self.shapes)
                if self._put(filling, kind):
                    fillings.append(filling)
                    return

    def _preference(self, sheet: Sheet) -> float:
        if self.problem.objective == "length":
            return 0.0
        area = sheet.region.area
        return (sheet.cost or 0.0) / area if self.problem.objective == "cost" else -area

    def _put(self, filling: Filling, kind: int) -> bool:
        """Put an item where its top comes out lowest, in any of the ways it may lie."""
        best: Spot | None = None
        for shape in self.shapes.of_item[kind]:
            self.stop.spend(_PER_TRY)
            spot = filling.best(shape)
            if spot is not None and (best is None or _top(spot) < _top(best)):
                best = spot
        if best is not None:
            filling.put(best)
        return best is not None

    def layout(self, fillings: Sequence[Filling]) -> Layout:
        """Write down what lies where."""
        placements = tuple(
            Placement(s.shape.item.name, n, snap(s.x), snap(s.y), s.shape.turn, s.shape.mirrored)
            for n, filling in enumerate(fillings)
            for s in filling.spots
        )
        sheets = tuple(filling.room.sheet for filling in fillings)
        layout = Layout(
            self.problem, sheets, placements, 0.0, engine=PolygonEngine.name, seconds=self.stop.elapsed
        )
        if self.problem.objective == "length" and sheets:
            layout = layout.with_changes(sheets=(replace(sheets[0], height=layout.used_length),))
        bound = bound_for(layout)
        return layout.with_changes(bound=bound.value, bound_reason=bound.reason)


def _top(spot: Spot) -> tuple[float, float]:
    return spot.y + spot.shape.bounds[3], spot.x + spot.shape.bounds[2]
