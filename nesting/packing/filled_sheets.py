"""Filled sheets that a search has come by, and the best choice among them."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from nesting.packing.covering import Ints, Prices, Relaxed, covering, relaxed
from nesting.packing.filling import Filling, Spot, counted
from nesting.packing.fits import Counts
from nesting.packing.problem import Problem
from nesting.packing.room import Room
from nesting.packing.shapes import Shapes
from nesting.packing.stop import Stop

_MOST = 6000
"""When there are more filled sheets, the older half is let go before others come in."""


_FRESH, _FRESH_SHARE = 5, 0.1
"""After how many new filled sheets a choice is worth making anew, and for each kind of piece."""

_SURE = 1e-6


@dataclass(frozen=True)
class Priced:
    """Filled sheets and what the choice among them with fractions allowed says of their pieces' worth.

    Attributes
    ----------
    added
        How many had been added by then.
    sheets, sorts, counts
        The filled sheets, the sort of each, shape (n,), and how many of each kind lie on it,
        shape (n, kinds).
    costs
        Of a sheet of each sort, what is scarce counting more, shape (sorts,).
    relaxed
        The choice.
    """

    added: int
    sheets: list[Filling]
    sorts: Ints
    counts: Ints
    costs: Prices
    relaxed: Relaxed


class FilledSheets:
    """Filled sheets, one for each kind of sheet and each set of items on it.

    Attributes
    ----------
    wanted
        How many are wanted of each kind, those on sheets that stay full left out.
    added
        How many have come in.
    """

    def __init__(
        self, problem: Problem, shapes: Shapes, rooms: Sequence[Room], full: Sequence[Filling]
    ) -> None:
        self.problem, self.shapes, self.rooms, self.added = problem, shapes, rooms, 0
        self._kinds = {item.name: k for k, item in enumerate(problem.items)}
        placed = counted(full)
        self.wanted = [item.quantity - placed[item.name] for item in problem.items]
        self._stock = [(self._left(room, full), self.cost(room)) for room in rooms]
        self._filled: dict[tuple[int, Counts], Filling] = {}
        self._priced: Priced | None = None
        self._worth = 1 + 2 * sum(cost for _, cost in self._stock)

    def _left(self, room: Room, full: Sequence[Filling]) -> int:
        """Count the sheets of a sort that are left beside those which stay full."""
        used = sum(filling.room is room for filling in full)
        return sum(self.wanted) if room.sheet.quantity is None else room.sheet.quantity - used

    def cost(self, room: Room) -> float:
        """Give what a sheet counts in the objective."""
        return (room.sheet.cost or 0.0) if self.problem.objective == "cost" else 1.0

    def add(self, fillings: Sequence[Filling]) -> None:
        """Keep filled sheets."""
        if len(self._filled) > _MOST:
            for key in list(self._filled)[: _MOST // 2]:
                del self._filled[key]
        before = len(self._filled)
        for filling in fillings:
            self._filled.setdefault(self._key(filling), filling)
        self.added += len(self._filled) - before

    def many_since(self, added: int) -> bool:
        """Whether so many have come in since there were so many that a choice is worth making anew."""
        return self.added - added >= max(_FRESH, _FRESH_SHARE * len(self.wanted))

    def priced(self, stop: Stop, beside: Sequence[Filling] = ()) -> Priced | None:
        """Choose with fractions allowed, beside sheets that stay; None if there is no time for it."""
        if self._priced is not None and self._priced.added == self.added and not beside:
            return self._priced
        left, stock = self.left(beside), self._stock_left(beside)
        sorts = np.array([sort for sort, _ in self._filled], np.int64)
        counts = np.zeros((len(sorts), len(left)), np.int64)
        for n, (_, held) in enumerate(self._filled):
            for k, count in held:
                counts[n, k] = min(count, left[k])
        found = relaxed(np.array(left), stock, sorts, counts, self._worth, stop)
        if found is None:
            return None
        costs = np.array([cost for _, cost in stock]) + found.scarcity
        priced = Priced(self.added, list(self._filled.values()), sorts, counts, costs, found)
        self._priced = self._priced if beside else priced
        return priced

    def left(self, beside: Sequence[Filling]) -> list[int]:
        """Count what is wanted of each kind beside sheets that stay."""
        held = Counter(self.kind(spot) for filling in beside for spot in filling.spots)
        return [count - held[k] for k, count in enumerate(self.wanted)]

    def _stock_left(self, beside: Sequence[Filling]) -> list[tuple[int, float]]:
        used = Counter(map(self.sort, beside))
        return [(quantity - used[sort], cost) for sort, (quantity, cost) in enumerate(self._stock)]

    def choose(self, hint: Sequence[Filling], stop: Stop, most: float) -> list[Filling]:
        """Choose filled sheets that place all they can for the least cost, beginning from a choice."""
        self.add(hint)
        number = {key: n for n, key in enumerate(self._filled)}
        started = Counter(number[self._key(filling)] for filling in hint)
        found = self._covering([self._worth] * len(self.wanted), stop, most, hint=started)
        return list(hint) if found is None else found

    def promising(self, fillings: Sequence[Filling], stop: Stop) -> bool:
        """Whether with fractions of sheets allowed there is a better choice than these."""
        priced = self.priced(stop)
        return priced is not None and priced.relaxed.cost < self.goal(fillings)

    def nearly(self, fillings: Sequence[Filling], stop: Stop, most: float) -> list[Filling] | None:
        """Choose filled sheets that cost less than these by a sheet and leave as little area as can be."""
        area = max(room.area for room in self.rooms)
        worth = [ways[0].area / area for ways in self.shapes.of_item]
        budget = self._spent(fillings) - min(map(self.cost, self.rooms))
        return self._covering(worth, stop, most, budget=budget)

    def _covering(
        self,
        worth: Sequence[float],
        stop: Stop,
        most: float,
        hint: Counter[int] | None = None,
        budget: float | None = None,
    ) -> list[Filling] | None:
        if stop.reached:  # CP-SAT takes most of a second to load
            return None
        chosen = covering(self.wanted, self._stock, list(self._filled), worth, stop, most, hint, budget)
        filled = list(self._filled.values())
        return None if chosen is None else self.trimmed([filled[n] for n in chosen])

    def goal(self, fillings: Sequence[Filling]) -> float:
        """Give what a choice may cost at most to be better than these."""
        return self._spent(fillings) - self._step + _SURE

    def _spent(self, fillings: Sequence[Filling]) -> float:
        """Add up costs, those of what is not placed included."""
        unplaced = sum(self.wanted) - sum(len(filling.spots) for filling in fillings)
        return sum(self.cost(filling.room) for filling in fillings) + self._worth * unplaced

    @property
    def _step(self) -> float:
        """The least by which a choice can be better than another."""
        return 2 * _SURE if self.problem.objective == "cost" else 1.0

    def trimmed(self, fillings: Sequence[Filling], beside: Sequence[Filling] = ()) -> list[Filling]:
        """Take away what is placed more often than wanted beside sheets that stay, and sheets left empty."""
        left, kept = self.left(beside), list[Filling]()
        for filling in fillings:
            spots = []
            for spot in filling.spots:
                kind = self.kind(spot)
                if left[kind]:
                    left[kind] -= 1
                    spots.append(spot)
            if spots:
                kept.append(Filling(filling.room, self.shapes, spots))
        return kept

    def sort(self, filling: Filling) -> int:
        """Give the number of the sort of sheet."""
        return next(k for k, room in enumerate(self.rooms) if room is filling.room)

    def kind(self, spot: Spot) -> int:
        """Give the number of the item."""
        return self._kinds[spot.shape.item.name]

    def _key(self, filling: Filling) -> tuple[int, Counts]:
        return self.sort(filling), tuple(sorted(Counter(map(self.kind, filling.spots)).items()))
