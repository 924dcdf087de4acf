"""Rectangles onto sheets: constructions, then improvement, choice and assignment in turns."""

import math
import random
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field

from nesting.packing import bounds
from nesting.packing.assignment import Assignment
from nesting.packing.boxes import Boxes, Filled
from nesting.packing.cp import Answer
from nesting.packing.fill import RULES, fill
from nesting.packing.fits import Fits
from nesting.packing.improvement import BOX_EFFORT, Improvement, random_order
from nesting.packing.pool import Pool, bed_cost, trimmed
from nesting.packing.priced_covering import PricedCovering
from nesting.packing.result import Bound, Layout
from nesting.packing.shares import ShareTable
from nesting.packing.stop import Stop

_CONSTRUCTIONS = 60
_LEAST_EFFORT = 0.02
"""What a turn counts at the least."""

_ASSIGNING, _IMPROVING, _CHOOSING = 0.1, 0.6, 0.05
"""Shares of the time left for one turn of each: annealing is the better the longer it may take."""

_COVERING, _BESIDE = 0.85, 0.5
"""Share of the time left for a turn of covering, and of an annealing that comes before it."""

_FEW, _UNCOVERED, _COVERED = 12, 70, 400
"""Most boxes on a sheet, on average, and fewest and most in all for which covering is tried."""

_NEAR = 0.05
"""So many beds more than there are a covering may need to be tried again with other layouts."""

_SHORTEST = 0.2
"""Seconds or units of effort of the shortest turn."""

_EASY = 50
"""For so many boxes an assignment gets its share of time, for fewer more, for more less."""

_ASSIGNED = 4000
"""Most boxes times beds for which an assignment is tried."""


@dataclass
class SheetSearch:
    """One search; `run` gives the best layout found."""

    boxes: Boxes
    stop: Stop
    seed: int
    report: Callable[[Layout], None]
    best: Layout | None = None
    filled: list[Filled] = field(default_factory=list)
    left: Counter[int] = field(default_factory=Counter)
    improvement: Improvement | None = None
    improved: int = 0
    covering: PricedCovering | None = None

    def run(self) -> Layout:
        """Search until the bound is met or the stop is reached."""
        self.rng = random.Random(self.seed)
        self.pool = Pool(self.boxes)
        self.bound = bounds.spent_bound(self.boxes.problem)
        self.most = bounds.placed_bound(self.boxes.problem).value
        rooms = [(bed.width, bed.height or 0) for bed in self.boxes.beds]
        self.wanted = Counter({
            k: kind.quantity
            for k, kind in enumerate(self.boxes.kinds)
            if any(w <= width and h <= height for w, h in kind.sizes for width, height in rooms)
        })  # fmt: skip
        self._construct_all()
        assignment = None
        while not self._done():
            before, share = self.stop.spent, _ASSIGNING if assignment is None else _IMPROVING
            assignment = self._assign(assignment, share * self._easy)
            share = _BESIDE if self._coverable else _IMPROVING
            found = self._done() or self._improve(share) or self._done() or self._cover(_COVERING)
            if not found and not self._done():
                self._choose(_CHOOSING)
            # turns that find nothing to do must come to an end too
            self.stop.spend(max(_LEAST_EFFORT - (self.stop.spent - before), 0.0))
        assert self.best is not None
        return self._layout(self.filled)

    @property
    def _easy(self) -> float:
        """How much more promising an assignment is than it is for many boxes."""
        return min(2.0, (_EASY / max(self.wanted.total(), 1)) ** 2)

    def _done(self) -> bool:
        if self.left:
            return self.stop.reached or self.wanted.total() - self.left.total() >= self.most
        return self.stop.reached or self._cost(self.filled) <= self.bound.value + 1e-9

    def _cost(self, filled: list[Filled]) -> float:
        return sum(bed_cost(self.boxes, bed) for bed, _ in filled)

    def _layout(self, filled: list[Filled]) -> Layout:
        layout = self.boxes.layout(filled, engine="rectangles")
        if layout.unplaced:
            return layout
        return layout.with_changes(bound=self.bound.value, bound_reason=self.bound.reason)

    def _offer(self, filled: list[Filled]) -> bool:
        """Keep a layout if it is the best so far."""
        left = Counter(self.wanted)
        left.subtract(spot.kind for _, spots in filled for spot in spots)
        left = +left
        if self.best is not None:
            rank = (left.total(), self._cost(filled))
            if rank >= (self.left.total(), self._cost(self.filled) - 1e-9):
                return False
        self.filled, self.left = list(filled), left
        self.best = self._layout(filled)
        self.report(self.best)
        return True

    def _construct_all(self) -> None:
        total = self.wanted.total()
        for trial in range(_CONSTRUCTIONS):
            if trial and (self._done() or self.stop.elapsed > self.stop_share(0.2)):
                break
            filled = self._constructed(trial)
            self.stop.spend(total * BOX_EFFORT)
            for bed in filled:
                self.pool.add(bed)
            self._offer(filled)

    def stop_share(self, share: float) -> float:
        """Seconds of the whole limit; endless under an effort."""
        return float("inf") if self.stop.seconds is None else self.stop.seconds * share

    def _constructed(self, trial: int) -> list[Filled]:
        kinds = list(self.wanted)
        order = random_order(self.boxes, kinds, self.rng)
        if trial == 0:
            order = sorted(kinds, key=lambda k: -self.boxes.kinds[k].area)
        left = dict(self.wanted)
        beds = list(range(len(self.boxes.beds)))
        if trial % 2:
            self.rng.shuffle(beds)
        else:
            beds.sort(key=lambda bed: bed_cost(self.boxes, bed) / max(self.boxes.beds[bed].area, 1))
        filled: list[Filled] = []
        for bed in beds:
            for _ in range(self.boxes.beds[bed].quantity):
                spots = fill(self.boxes, bed, order, left, RULES[trial % len(RULES)])
                if not spots:
                    break
                filled.append((bed, spots))
        return filled

    def _improve(self, share: float) -> bool:
        """Go on with one sheet less than the best layout has, from where the last round ended."""
        part = _part(self.stop, share)
        if self.improvement is None or self.improved != len(self.filled) or self.left:
            self.improvement, self.improved = self._improvement(), len(self.filled)
        done = self.improvement.run(part)
        self.stop.spend(part.spent)
        return (done or bool(self.left)) and self._offer(self.improvement.filled)

    def _improvement(self) -> Improvement:
        kept, left = self._target()
        weight = [float(kind.area) for kind in self.boxes.kinds]
        if self.left:
            weight = [sum(weight) / len(weight) + area for area in weight]
        return Improvement(self.boxes, kept, left, weight, self.rng, self.pool.add)

    def _target(self) -> tuple[list[Filled], Counter[int]]:
        """Beds to fill and what is left over: all there are, or one less than the best layout has."""
        if self.left:
            return list(self.filled), Counter(self.left)
        kept = sorted(self.filled, key=self._density)
        gone = 0 if self.rng.random() < 0.7 else self.rng.randrange(len(kept))
        _, spots = kept.pop(gone)
        return kept, Counter(spot.kind for spot in spots)

    def _density(self, filled: Filled) -> float:
        bed, spots = filled
        return sum(self.boxes.kinds[spot.kind].area for spot in spots) / max(self.boxes.beds[bed].area, 1)

    @property
    def _coverable(self) -> bool:
        """Whether covering may find one sheet less: few boxes on each of some equal sheets."""
        count, total = len(self.filled) - 1, self.wanted.total()
        whole = len(self.wanted) == len(self.boxes.kinds) and not self.left
        if len(self.boxes.beds) > 1 or not whole or count < 2:
            return False
        hopeless = (
            self.covering is not None
            and self.covering.count == count
            and math.isfinite(self.covering.needed)
            and self.covering.needed > count + _NEAR
        )
        return _UNCOVERED <= total <= min(_FEW * count, _COVERED) and not hopeless

    def _cover(self, share: float) -> bool:
        """Look for one sheet less among layouts of a single sheet, those seen so far to begin with."""
        if not self._coverable:
            return False
        count = len(self.filled) - 1
        if self.covering is None or self.covering.count != count:
            self.covering = PricedCovering(self.boxes, 0, count, self.rng)
        part = _part(self.stop, share)
        found = self.covering.search(part, self.pool.filled.values())
        self.stop.spend(part.spent)
        return bool(found) and self._offer(found)

    def _choose(self, share: float) -> None:
        worth = 1 + sum(self._cost([(bed, ())]) for bed in range(len(self.boxes.beds)))
        self._offer(self.pool.choose(self.stop, max(share * self.stop.left, _SHORTEST), worth, self.filled))

    def _assignment(self) -> Assignment | None:
        boxes, count = self.boxes, len(self.filled) - 1
        bed, whole = boxes.beds[0], len(self.wanted) == len(boxes.kinds)
        size = self.wanted.total() * count
        if len(boxes.beds) > 1 or self.left or not whole or not 0 < size <= _ASSIGNED or bed.blocked:
            return None
        gap, height = max(kind.gap for kind in boxes.kinds), bed.height or 0
        sizes = [
            tuple(
                (w + kind.gap, h + kind.gap)
                for w, h in kind.sizes
                if w <= bed.width and h <= (bed.height or 0)
            )
            for kind in boxes.kinds
        ]
        table = ShareTable.of(sizes, [kind.quantity for kind in boxes.kinds], bed.width + gap, height + gap)
        return Assignment(boxes, 0, count, Fits(boxes, 0, self.stop, self.seed), table, self.seed)

    def _assign(self, assignment: Assignment | None, share: float) -> Assignment | None:
        if assignment is None or assignment.count >= len(self.filled):
            assignment = self._assignment()
        if assignment is None:
            return None
        part = _part(self.stop, share)
        assignment.fits.stop = part
        answer, filled = assignment.search(part, lambda spots: self.pool.add((0, spots)))
        self.stop.spend(part.spent)
        if answer is Answer.FOUND:
            self._offer(trimmed(self.boxes, filled))
            return self._assignment()
        if answer is Answer.NONE and self.boxes.exact:
            count = len(self.filled)
            self.bound = Bound(
                float(count), f"an exhaustive search proves that {count - 1} sheets do not suffice"
            )
        return assignment


def _part(stop: Stop, share: float) -> Stop:
    """Limit to a share of what is left, but not to less than the shortest turn."""
    return stop.part(min(max(share, _SHORTEST / max(stop.left, _SHORTEST)), 1.0))
