"""Getting left-over boxes onto beds that are already filled, by filling a few beds anew at a time."""

import random
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from nesting.packing.boxes import Boxes, Filled, Spot
from nesting.packing.stop import Stop

if TYPE_CHECKING:
    from nesting.packing.compiled_fill import Ints, Lying, Stock

BOX_EFFORT = 3e-5
"""Units of effort for one box placed by a construction."""

LAID_EFFORT = 1e-6
"""Units of effort for one box laid by compiled code."""

_BUDGET = 20_000
"""Boxes laid between two looks at the clock, or 20 of each box if that is more."""

_WARMTH = 0.01

_SPREADS = (0.2, 0.5, 1.0)


@dataclass
class Improvement:
    """Filled beds and what is left over; the weight of the latter is brought down.

    Attributes
    ----------
    weight
        What one left-over box of each kind weighs.
    seen
        Told the beds filled in the course of it.
    """

    boxes: Boxes
    filled: list[Filled]
    left: Mapping[int, int]
    weight: Sequence[float]
    rng: random.Random
    seen: Callable[[Filled], None]
    heaviest: float = field(init=False)
    wanted: list[int] = field(init=False)
    kind: "Ints" = field(init=False)

    def __post_init__(self) -> None:
        wanted = Counter(self.left) + self._placed()
        self.wanted = [wanted[k] for k in range(len(self.boxes.kinds))]
        self.kind = np.repeat(np.arange(len(self.wanted)), self.wanted)
        bed_area = max((self.boxes.beds[bed].area for bed, _ in self.filled), default=0)
        mean = sum(self.weight) / sum(kind.area for kind in self.boxes.kinds)
        self.heaviest = bed_area * mean

    def run(self, stop: Stop) -> bool:
        """Go on until nothing is left over, or `stop`; tell whether nothing is.

        Steps become ever more seldom for the worse as the end comes near (simulated annealing).
        """
        if not self.filled or not self.left or stop.reached:
            return not self.left
        from nesting.packing.refilling import refill

        stock, now, best = self.stock(), self.lying(), self.lying()
        whole = stop.left
        over = float(sum(self.weight[k] * count for k, count in self.left.items()))
        least, budget = over, max(_BUDGET, 20 * len(now.bed))
        while over > 0 and not stop.reached:
            warmth = _WARMTH * self.heaviest * stop.left / whole
            over, least, laid = refill(
                stock, now, best, (over, least), warmth, budget, self.rng.getrandbits(32)
            )
            stop.spend(laid * LAID_EFFORT)
            for filled in self.read(now):
                self.seen(filled)
        self.filled = self.read(best)
        self.left = Counter(dict(enumerate(self.wanted))) - self._placed()
        return not self.left

    def _placed(self) -> Counter[int]:
        return Counter(spot.kind for _, spots in self.filled for spot in spots)

    def stock(self) -> "Stock":
        """Write kinds, boxes and beds as arrays."""
        from nesting.packing.compiled_fill import Stock

        kinds, beds = self.boxes.kinds, [self.boxes.beds[bed] for bed, _ in self.filled]
        gaps = sorted({kind.gap for kind in kinds})
        blocked = [(i, *box) for i, bed in enumerate(beds) for box in bed.blocked]
        return Stock(
            kind=self.kind,
            first=np.cumsum([0, *self.wanted]),
            wide=np.array([[kind.sizes[0][0], kind.sizes[-1][0]] for kind in kinds]),
            high=np.array([[kind.sizes[0][1], kind.sizes[-1][1]] for kind in kinds]),
            ways=np.array([len(kind.sizes) for kind in kinds]),
            group=np.array([gaps.index(kind.gap) for kind in kinds]),
            gaps=np.array(gaps),
            weight=np.array(self.weight, float),
            widths=np.array([bed.width for bed in beds]),
            heights=np.array([bed.height or 0 for bed in beds]),
            blocked=np.array(blocked, np.int64).reshape(-1, 5),
        )

    def lying(self) -> "Lying":
        """Write where the boxes lie as arrays."""
        from nesting.packing.compiled_fill import Lying

        start, count, placed = np.cumsum([0, *self.wanted]), sum(self.wanted), Counter[int]()
        lies = Lying(np.full(count, -1), *(np.zeros(count, np.int64) for _ in range(3)))
        for i, (_, spots) in enumerate(self.filled):
            for spot in spots:
                box = start[spot.kind] + placed[spot.kind]
                placed[spot.kind] += 1
                lies.bed[box], lies.size[box], lies.x[box], lies.y[box] = i, spot.size, spot.x, spot.y
        return lies

    def read(self, lies: "Lying") -> list[Filled]:
        """Read where the boxes lie."""
        spots: list[list[Spot]] = [[] for _ in self.filled]
        for bed, *spot in np.stack([lies.bed, self.kind, lies.size, lies.x, lies.y], axis=1).tolist():
            if bed >= 0:
                spots[bed].append(Spot(*spot))
        return [(bed, tuple(there)) for (bed, _), there in zip(self.filled, spots, strict=True)]


def random_order(boxes: Boxes, kinds: Sequence[int], rng: random.Random) -> list[int]:
    """Sort kinds from large to small by a size chosen by chance, and not quite exactly."""
    spread, way = rng.choice(_SPREADS), rng.random()
    measure: dict[int, float] = {}
    for k in kinds:
        w, h = boxes.kinds[k].sizes[0]
        size = w * h if way < 0.6 else max(w, h) if way < 0.8 else w if way < 0.9 else h
        measure[k] = size * (1 + spread * rng.random())
    return sorted(kinds, key=measure.__getitem__, reverse=True)
