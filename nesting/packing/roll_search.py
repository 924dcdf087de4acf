"""Rectangles on a roll: the order of the boxes is annealed, and CP-SAT closes small gaps to the bound."""

import math
import random
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field, replace

from nesting.packing import bounds
from nesting.packing.boxes import Boxes, Filled, Spot
from nesting.packing.cp import Answer
from nesting.packing.fill import fill
from nesting.packing.fits import searched
from nesting.packing.improvement import BOX_EFFORT, random_order
from nesting.packing.result import Layout
from nesting.packing.skyline import Stacked, Way, stack
from nesting.packing.stop import Stop

_SOLVED = 45
"""Most boxes for which CP-SAT is asked for a shorter roll."""

_WARMTH = 0.004


@dataclass
class RollSearch:
    """One search; `run` gives the best layout found."""

    boxes: Boxes
    stop: Stop
    seed: int
    report: Callable[[Layout], None]
    best: Layout | None = None
    height: int = 0
    left: int = 0
    rng: random.Random = field(init=False)

    def __post_init__(self) -> None:
        self.rng = random.Random(self.seed)
        self.bed = self.boxes.beds[0]
        bound = bounds.spent_bound(self.boxes.problem).value
        margin = self.boxes.problem.sheets[0].margin
        self.lowest = math.ceil((bound - 2 * margin) * 1000 / self.boxes.unit - 1e-6)
        self.ways: list[Way] = [
            (k, size, w, h)
            for k, kind in enumerate(self.boxes.kinds)
            for size, (w, h) in enumerate(kind.sizes)
            if w <= self.bed.width
        ]
        fitting = {way[0] for way in self.ways}
        self.quantity = [kind.quantity if k in fitting else 0 for k, kind in enumerate(self.boxes.kinds)]

    def run(self) -> Layout:
        """Search until the bound is met or the stop is reached."""
        gaps = {kind.gap for kind in self.boxes.kinds}
        if len(gaps) > 1 or self.bed.blocked:
            self._refill()
        else:
            small = sum(self.quantity) <= _SOLVED
            self._anneal(self.stop.part(0.2 if small else 1.0), gaps.pop())
            if small:
                self._solve()
        assert self.best is not None
        return self.best

    def _offer(self, spots: tuple[Spot, ...]) -> None:
        height = max((s.y + self.boxes.kinds[s.kind].sizes[s.size][1] for s in spots), default=0)
        if self.best is None or height < self.height:
            self.height = height
            filled: list[Filled] = [(0, spots)]
            self.best = self.boxes.layout(filled, engine="rectangles")
            self.report(self.best)

    def _done(self) -> bool:
        return self.best is not None and self.height <= self.lowest

    def _anneal(self, stop: Stop, gap: int) -> None:
        """Swap boxes in the order of preference, from several starts, the later the colder."""
        ways = [(k, s, w + gap, h + gap) for k, s, w, h in self.ways]
        width, whole = self.bed.width + gap, stop.left
        starts: list[Callable[[Way], int]] = [
            lambda v: v[2] * v[3],
            lambda v: v[2],
            lambda v: v[3],
            lambda v: v[2] + v[3],
        ]
        tried = [(self._stacked(sorted(ways, key=key, reverse=True), width, stop), key) for key in starts]
        now, key = min(tried, key=lambda pair: _length(pair[0], width))
        order = sorted(ways, key=key, reverse=True)
        while not (stop.reached or self._done()) and len(order) > 1:
            changed = self._changed(order)
            found = self._stacked(changed, width, stop)
            warmth = _WARMTH * now.height * stop.left / whole
            if _length(found, width) <= _length(now, width) - warmth * math.log(1 - self.rng.random()):
                now, order = found, changed
        self.stop.spend(stop.spent)

    def _changed(self, order: list[Way]) -> list[Way]:
        changed = list(order)
        i, j = self.rng.randrange(len(order)), self.rng.randrange(len(order))
        if self.rng.random() < 0.5:
            changed[i], changed[j] = changed[j], changed[i]
        else:
            changed.insert(j, changed.pop(i))
        return changed

    def _stacked(self, ways: list[Way], width: int, stop: Stop) -> Stacked:
        stacked = stack(ways, self.quantity, width)
        stop.spend(len(stacked.spots) * BOX_EFFORT)
        self._offer(stacked.spots)
        return stacked

    def _solve(self) -> None:
        """Ask for the shortest roll first, then for ever longer ones below the best."""
        counts = tuple((k, count) for k, count in enumerate(self.quantity) if count)
        low = self.lowest
        while counts and low < self.height and not self.stop.reached:
            boxes = replace(self.boxes, beds=(replace(self.bed, height=low),))
            answer, spots = searched(boxes, 0, counts, self.stop, self.stop.left / 2)
            if answer is Answer.FOUND:
                self._offer(spots)
            elif answer is Answer.NONE:
                low += 1
            else:
                low = (low + self.height) // 2 if low + 1 < self.height else self.height

    def _refill(self) -> None:
        """Fill in one random order after another, for gaps that differ and for keep-outs."""
        top = sum(count * max(h for _, h in kind.sizes) + count * kind.gap
                  for count, kind in zip(self.quantity, self.boxes.kinds, strict=True))  # fmt: skip
        top += max((box[3] for box in self.bed.blocked), default=0)
        kinds = [k for k, count in enumerate(self.quantity) if count]
        while self.best is None or not (self.stop.reached or self._done()):
            left = Counter(dict(enumerate(self.quantity)))
            self._offer(fill(self.boxes, 0, random_order(self.boxes, kinds, self.rng), left, "low", top))
            self.stop.spend(sum(self.quantity) * BOX_EFFORT)


def _length(stacked: Stacked, width: int) -> float:
    """Height, and the waste below it spread over the width: it falls before the height does."""
    return stacked.height + stacked.waste / width
