"""Filled sheets that a search has come by, and the best choice among them."""

from collections import Counter
from collections.abc import Sequence

from nesting.packing.covering import covering
from nesting.packing.filling import Filling
from nesting.packing.fits import Counts
from nesting.packing.problem import Problem
from nesting.packing.room import Room
from nesting.packing.shapes import Shapes
from nesting.packing.stop import Stop

_MOST = 3000
"""Of more filled sheets the older half is let go."""


class FilledSheets:
    """Filled sheets, one for each kind of sheet and each set of items on it.

    Attributes
    ----------
    fresh
        How many have come in since the last choice.
    """

    def __init__(
        self, problem: Problem, shapes: Shapes, rooms: Sequence[Room], full: Sequence[Filling]
    ) -> None:
        self.problem, self.shapes, self.rooms, self.fresh = problem, shapes, rooms, 0
        self._kinds = {item.name: k for k, item in enumerate(problem.items)}
        placed = Counter(spot.shape.item.name for filling in full for spot in filling.spots)
        self._wanted = [item.quantity - placed[item.name] for item in problem.items]
        self._stock = [(self._left(room, full), self.cost(room)) for room in rooms]
        self._filled: dict[tuple[int, Counts], Filling] = {}

    def _left(self, room: Room, full: Sequence[Filling]) -> int:
        """Count the sheets of a sort that are left beside those which stay full."""
        used = sum(filling.room is room for filling in full)
        return sum(self._wanted) if room.sheet.quantity is None else room.sheet.quantity - used

    def cost(self, room: Room) -> float:
        """Give what a sheet counts in the objective."""
        return (room.sheet.cost or 0.0) if self.problem.objective == "cost" else 1.0

    def add(self, fillings: Sequence[Filling]) -> None:
        """Keep filled sheets."""
        before = len(self._filled)
        for filling in fillings:
            self._filled.setdefault(self._key(filling), filling)
        self.fresh += len(self._filled) - before
        if len(self._filled) > _MOST:
            for key in list(self._filled)[: _MOST // 2]:
                del self._filled[key]

    def choose(self, hint: Sequence[Filling], stop: Stop, most: float) -> list[Filling]:
        """Choose filled sheets that place all they can for the least cost, beginning from a choice."""
        self.add(hint)
        self.fresh = 0
        number = {key: n for n, key in enumerate(self._filled)}
        started = Counter(number[self._key(filling)] for filling in hint)
        worth = 1 + 2 * sum(self.cost(room) for room in self.rooms)
        chosen = covering(self._wanted, self._stock, list(self._filled), worth, stop, most, started)
        filled = list(self._filled.values())
        return list(hint) if chosen is None else self._trimmed([filled[n] for n in chosen])

    def _trimmed(self, fillings: Sequence[Filling]) -> list[Filling]:
        """Take away what is placed more often than wanted, and sheets left empty."""
        left, kept = list(self._wanted), []
        for filling in fillings:
            spots = []
            for spot in filling.spots:
                kind = self._kinds[spot.shape.item.name]
                if left[kind]:
                    left[kind] -= 1
                    spots.append(spot)
            if spots:
                kept.append(Filling(filling.room, self.shapes, spots))
        return kept

    def _key(self, filling: Filling) -> tuple[int, Counts]:
        room = next(k for k, room in enumerate(self.rooms) if room is filling.room)
        return room, tuple(sorted(Counter(self._kinds[s.shape.item.name] for s in filling.spots).items()))
