"""Getting left-over boxes onto beds that are already filled, by filling a few beds anew at a time."""

import math
import random
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from nesting.packing.boxes import Box, Boxes, Filled, Spot
from nesting.packing.fill import RULES, fill
from nesting.packing.stop import Stop

BOX_EFFORT = 3e-5
"""Units of effort for one box placed."""

_WARMTH = 0.01
_FIRST = 0.3
"""How often the left-overs come before all others."""

_MANY, _EMPTIED = 12, 0.5
"""On more boxes than that a window may be emptied instead of the whole bed, but so often it is not."""

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
    left: Mapping[int, int]
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
        whole, now = stop.left, self._weight(self.left)
        best = (now, list(self.filled), self.left)
        while now > 0 and self.filled and not stop.reached:
            now = self._step(stop.left / whole, now, stop)
            if now < best[0]:
                best = (now, list(self.filled), self.left)
        _, self.filled, self.left = best
        return best[0] <= 0

    def _step(self, share: float, now: float, stop: Stop) -> float:
        """Fill some beds anew, and give the weight left over afterwards."""
        count = min(self.rng.choice((1, 2, 2, 3)), len(self.filled))
        chosen = self.rng.sample(range(len(self.filled)), count)
        kept = [self._kept(self.filled[i]) for i in chosen]
        pile = self._pile(chosen, kept)
        stop.spend((sum(pile.values()) + sum(map(len, kept)) + 1) * BOX_EFFORT)
        order = random_order(self.boxes, list(pile), self.rng)
        if self.rng.random() < _FIRST:
            order.sort(key=lambda k: k not in self.left)
        rule = self.rng.choice(RULES)
        allowed = now - _WARMTH * self.heaviest * share * math.log(1 - self.rng.random())
        anew: list[Filled] = []
        for i, spots in zip(chosen, kept, strict=True):
            # what does not fit the last bed is left over, so filling it can be given up early
            limit = (allowed, self.weight) if i == chosen[-1] else None
            bed = self.filled[i][0]
            anew.append((bed, fill(self.boxes, bed, order, pile, rule, kept=spots, allowed=limit)))
        left = {k: count for k, count in pile.items() if count}
        weight = self._weight(left)
        if weight > allowed:
            return now
        for i, new in zip(chosen, anew, strict=True):
            self.filled[i] = new
            self.seen(new)
        self.left = left
        return weight

    def _pile(self, chosen: Sequence[int], kept: Sequence[tuple[Spot, ...]]) -> dict[int, int]:
        """Count what is to be placed: the left-overs and what does not stay on the beds."""
        pile = dict(self.left)
        for i, staying in zip(chosen, kept, strict=True):
            for spot in self.filled[i][1]:
                pile[spot.kind] = pile.get(spot.kind, 0) + 1
            for spot in staying:
                pile[spot.kind] -= 1
        return {k: count for k, count in pile.items() if count}

    def _kept(self, filled: Filled) -> tuple[Spot, ...]:
        """Choose what stays on a bed: nothing, or if many boxes lie there all that a window leaves alone."""
        bed, spots = filled[0], filled[1]
        if len(spots) <= _MANY or self.rng.random() < _EMPTIED:
            return ()
        width, height = self.boxes.beds[bed].width, self.boxes.beds[bed].height or 0
        w, h = (int(side * self.rng.uniform(0.3, 1.0)) for side in (width, height))
        x, y = self.rng.randint(0, width - w), self.rng.randint(0, height - h)
        return tuple(spot for spot in spots if not self._meets(spot, (x, y, x + w, y + h)))

    def _meets(self, spot: Spot, window: Box) -> bool:
        w, h = self.boxes.kinds[spot.kind].sizes[spot.size]
        x0, y0, x1, y1 = window
        return spot.x < x1 and spot.x + w > x0 and spot.y < y1 and spot.y + h > y0

    def _weight(self, left: Mapping[int, int]) -> float:
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
