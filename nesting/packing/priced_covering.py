"""So many equal beds that hold every box: columns from a linear programme, fixed one by one.

The programme covers the boxes by layouts of one bed (Gilmore and Gomory 1961, "A linear programming approach
to the cutting-stock problem", Operations Research 9); new layouts are drawn by what its prices make dear. As
long as it needs no more beds than there are, its fullest layout is fixed and the rest covered anew; what
leads beyond is taken back, with the next layouts in its stead. Choices other than the first are few at
first and then more (limited discrepancy search: Harvey and Ginsberg 1995, IJCAI 14).
"""

import math
import random
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from nesting.packing.boxes import Boxes, Filled, Spot
from nesting.packing.covering import Prices, relaxed
from nesting.packing.patterns import Patterns
from nesting.packing.pool import trimmed
from nesting.packing.stop import Stop

if TYPE_CHECKING:
    from nesting.packing.compiled_fill import Ints

_COLUMNS = 600
"""Most layouts in one programme: those that the last one used, and the dearest by its prices."""

Shares = dict[int, float]
"""How much of each pattern a programme uses; the others are 0."""

_DRAWS = ((300, 1), (600, 1), (1200, 60), (2400, 60))
"""Fillings drawn in a round, and how many of them in a row are alike; the next if they bring nothing new."""

_MANY = 100
"""Of more boxes fewer fillings are drawn in a round."""

_CHOICES = 4
_MOST_OTHERS = 8
_LEAST_SHARE = 0.02
_SURE = 1e-6


@dataclass
class PricedCovering:
    """The search for `count` beds of one kind that hold every box.

    Attributes
    ----------
    needed
        Beds that the programme needed at the last look, fractions of a bed allowed: above `count` there
        was nothing to search.
    """

    boxes: Boxes
    bed: int
    count: int
    rng: random.Random
    patterns: Patterns = field(init=False)
    needed: float = math.inf
    _dead: set[bytes] = field(default_factory=set)

    def __post_init__(self) -> None:
        self.patterns = Patterns(self.boxes, self.bed, self.rng)
        self._wanted: Ints = np.array([kind.quantity for kind in self.boxes.kinds])
        self._salt: Ints = np.array([self.rng.getrandbits(40) for _ in self.boxes.kinds])

    def search(self, stop: Stop, known: Iterable[tuple[Spot, ...]]) -> list[Filled]:
        """Give beds that hold every box, or none; `known` are layouts to begin with."""
        self.patterns.add(known)
        room = self.boxes.beds[self.bed].area
        prices: Prices = np.array([kind.area / room for kind in self.boxes.kinds])
        self.needed, prices, shares = self._relaxed(self._wanted, self.count, prices, {}, stop)
        if self.needed > self.count + _SURE:
            return []
        for others in range(_MOST_OTHERS):
            self._dead.clear()
            found = self._fixed(self._wanted, self.count, prices, shares, others, stop)
            if found is not None:
                return trimmed(self.boxes, [(self.bed, self.patterns.spots(i)) for i in found])
            if stop.reached:
                break
        return []

    def _fixed(
        self, left: "Ints", count: int, prices: Prices, shares: Shares, others: int, stop: Stop
    ) -> list[int] | None:
        """Cover what is left by so many patterns, with so many choices other than the first."""
        if not left.any():
            return []
        if not count or stop.reached:
            return None
        needed, prices, shares = self._relaxed(left, count, prices, shares, stop)
        if needed > count + _SURE:
            return None
        for other, (pattern, share) in enumerate(self._choices(left, shares)):
            if other > others or (other and share < _LEAST_SHARE):
                break
            rest = np.maximum(left - self.patterns.counts[pattern], 0)
            if rest.tobytes() in self._dead:
                continue
            found = self._fixed(rest, count - 1, prices, shares, others - other, stop)
            if found is not None:
                return [pattern, *found]
            if other < others:
                self._dead.add(rest.tobytes())
        return None

    def _choices(self, left: "Ints", shares: Shares) -> list[tuple[int, float]]:
        """Patterns by their share in the programme, with some chance in it, the fullest of equals first."""
        area = np.array([kind.area for kind in self.boxes.kinds])
        room = self.boxes.beds[self.bed].area
        measure = {
            i: share * (1 + 0.1 * self.rng.random())
            + 1e-4 * float(np.minimum(self.patterns.counts[i], left) @ area) / room
            for i, share in shares.items()
        }
        chosen = sorted(measure, key=measure.__getitem__, reverse=True)[:_CHOICES]
        return [(i, shares[i]) for i in chosen]

    def _relaxed(
        self, left: "Ints", count: int, prices: Prices, shares: Shares, stop: Stop
    ) -> tuple[float, Prices, Shares]:
        """Draw patterns until the programme needs no more than so many beds, or none are new.

        Gives what it needs, its prices, and the patterns' shares.
        """
        needed = math.inf
        while not stop.reached:
            needed, prices, shares = self._solved(left, prices, shares, stop)
            if needed <= count + _SURE:
                break
            share = min(1.0, _MANY / int(self._wanted.sum()))
            rounds = ((int(share * trials), row) for trials, row in _DRAWS)
            if not any(self.patterns.draw(left, prices, *drawn, stop) for drawn in rounds):
                break
        return needed, prices, shares

    def _solved(
        self, left: "Ints", prices: Prices, shares: Shares, stop: Stop
    ) -> tuple[float, Prices, Shares]:
        """Solve the programme over the patterns used and the dearest, cut down to what is left."""
        rest = np.minimum(self.patterns.counts, left)
        _, first = np.unique(rest @ self._salt, return_index=True)
        worth = rest @ prices
        worth[list(shares)] = np.inf
        chosen = first[np.argsort(-worth[first], kind="stable")[:_COLUMNS]]
        sorts = np.zeros(len(chosen), np.int64)
        # a box alone fills a bed, too
        stock, alone = [(int(self._wanted.sum()), 1.0)], 1.0
        found = relaxed(left, stock, sorts, rest[chosen], alone, stop)
        if found is None:
            return math.inf, prices, shares
        used = zip(chosen.tolist(), found.shares.tolist(), strict=True)
        return found.cost, found.prices, {i: share for i, share in used if share > 0 and rest[i].any()}
