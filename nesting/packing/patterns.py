"""Layouts of one bed, found by filling it with what a linear programme finds dear."""

import random
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from nesting.packing.boxes import Boxes, Spot
from nesting.packing.improvement import LAID_EFFORT, Improvement
from nesting.packing.stop import Stop

if TYPE_CHECKING:
    from nesting.packing.compiled_fill import Ints, Stock
    from nesting.packing.compiled_patterns import Drawn

_DRAWN = 300
"""Most fillings kept of one round."""

_KEPT = 100
"""Most of them that become patterns, the dearest first."""

_OVER = 1 + 1e-6


@dataclass
class Patterns:
    """Layouts of one bed, none twice.

    Attributes
    ----------
    counts
        How many boxes of each kind a pattern has, shape (patterns, kinds).
    """

    boxes: Boxes
    bed: int
    rng: random.Random
    counts: "Ints" = field(init=False)
    _spots: list[tuple[Spot, ...]] = field(default_factory=list)
    _known: set[bytes] = field(default_factory=set)
    _stock: "Stock" = field(init=False)
    _drawn: "Drawn" = field(init=False)

    def __post_init__(self) -> None:
        from nesting.packing.compiled_patterns import Drawn

        kinds = self.boxes.kinds
        wanted = {k: kind.quantity for k, kind in enumerate(kinds)}
        weight = [1.0] * len(kinds)
        self._stock = Improvement(
            self.boxes, [(self.bed, ())], wanted, weight, self.rng, lambda _: None
        ).stock()
        count = len(self._stock.kind)
        self.counts = np.zeros((0, len(kinds)), np.int64)
        self._drawn = Drawn(
            np.zeros((_DRAWN, count, 4), np.int64), np.zeros(_DRAWN, np.int64), np.zeros(_DRAWN)
        )

    def spots(self, pattern: int) -> tuple[Spot, ...]:
        """Say where the boxes of a pattern lie."""
        return self._spots[pattern]

    def add(self, layouts: Iterable[tuple[Spot, ...]]) -> int:
        """Take in layouts of the bed; give how many of them are new."""
        new = []
        for spots in layouts:
            row = np.bincount([spot.kind for spot in spots], minlength=len(self.boxes.kinds))
            if row.tobytes() not in self._known:
                self._known.add(row.tobytes())
                self._spots.append(spots)
                new.append(row)
        if new:
            self.counts = np.concatenate([self.counts, np.array(new, np.int64)])
        return len(new)

    def draw(self, left: "Ints", worth: NDArray[np.float64], trials: int, row: int, stop: Stop) -> int:
        """Fill the bed by chance with boxes of which so many are left, and keep what is worth more than 1.

        `worth` is of one box of each kind; `row` fillings each keep most of the one before. Gives how many
        patterns are new.
        """
        from nesting.packing.compiled_fill import Lying
        from nesting.packing.compiled_patterns import draw

        kind, drawn = self._stock.kind, self._drawn
        among = np.arange(len(kind)) - self._stock.first[kind]
        lies = Lying(np.where(among < left[kind], -1, 1), *(np.zeros(len(kind), np.int64) for _ in range(3)))
        seed = self.rng.getrandbits(32)
        kept, laid = draw(self._stock, lies, np.flatnonzero(left), worth, trials, row, _OVER, drawn, seed)
        stop.spend(laid * LAID_EFFORT)
        dearest = np.argsort(-drawn.worth[:kept], kind="stable")[:_KEPT]
        return self.add(self._read(i) for i in dearest)

    def _read(self, i: int) -> tuple[Spot, ...]:
        rows = self._drawn.spots[i, : self._drawn.number[i]]
        kinds = self._stock.kind[rows[:, 0]]
        return tuple(Spot(k, *row[1:]) for k, row in zip(kinds.tolist(), rows.tolist(), strict=True))
