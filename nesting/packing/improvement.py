"""Getting left-over boxes onto beds that are already filled, by filling a few beds anew at a time."""

import math
import random
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from nesting.packing.boxes import Boxes, Filled
from nesting.packing.fill import RULES, fill
from nesting.packing.stop import Stop

BOX_EFFORT = 3e-5
"""Units of effort for one box placed."""

_WARMTH = 0.01
_SPREADS = (0.2, 0.5, 1.0)


@dataclass
class Improvement:
    """Filled beds and what is left over; the weight of the latter is brought down.

    A step takes one to three beds, empties them, and fills them anew from what lay there and the
    left-overs, in an order with some chance in it. A step that makes it a little worse is taken too,
    ever more seldom as the end comes near (simulated annealing).

    Attributes
    ----------
    weight
        What one left-over box of each kind weighs.
    seen
        Told every bed that was filled anew.
    """

    boxes: Boxes
    filled: list[Filled]
    left: Counter[int]
    weight: Sequence[float]
    rng: random.Random
    seen: Callable[[Filled], None]
    heaviest: float = field(init=False)

    def __post_init__(self) -> None:
        bed_area = max((self.boxes.beds[bed].area for bed, _ in self.filled), default=0)
        mean = sum(self.weight) / sum(kind.area for kind in self.boxes.kinds)
        self.heaviest = bed_area * mean

    def run(self, stop: Stop) -> bool:
        """Go on until nothing is left over, or `stop`; tell whether nothing is."""
        whole, best = stop.left, (self._weight(self.left), self.filled, self.left)
        while best[0] > 0 and self.filled and not stop.reached:
            share = stop.left / whole
            self._step(share, stop)
            weight = self._weight(self.left)
            if weight < best[0]:
                best = (weight, list(self.filled), self.left)
        _, self.filled, self.left = best
        return best[0] <= 0

    def _step(self, share: float, stop: Stop) -> None:
        chosen = self.rng.sample(
            range(len(self.filled)), min(self.rng.choice((1, 2, 2, 3)), len(self.filled))
        )
        pile = Counter(self.left)
        for i in chosen:
            pile.update(spot.kind for spot in self.filled[i][1])
        stop.spend(pile.total() * BOX_EFFORT)
        order = random_order(self.boxes, list(pile), self.rng)
        rule = self.rng.choice(RULES)
        rest = dict(pile)
        anew: list[Filled] = [
            (self.filled[i][0], fill(self.boxes, self.filled[i][0], order, rest, rule)) for i in chosen
        ]
        left = +Counter(rest)
        allowed = self._weight(self.left) - _WARMTH * self.heaviest * share * math.log(1 - self.rng.random())
        if self._weight(left) <= allowed:
            for i, new in zip(chosen, anew, strict=True):
                self.filled[i] = new
                self.seen(new)
            self.left = left

    def _weight(self, left: Counter[int]) -> float:
        return sum(self.weight[k] * count for k, count in left.items())


def random_order(boxes: Boxes, kinds: Sequence[int], rng: random.Random) -> list[int]:
    """Sort kinds from large to small by a size chosen by chance, and not quite exactly."""
    spread, way = rng.choice(_SPREADS), rng.random()
    measure: dict[int, float] = {}
    for k in kinds:
        w, h = boxes.kinds[k].sizes[0]
        size = w * h if way < 0.6 else max(w, h) if way < 0.8 else w if way < 0.9 else h
        measure[k] = size * (1 + spread * rng.random())
    return sorted(kinds, key=measure.__getitem__, reverse=True)
