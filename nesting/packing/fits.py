"""Whether a set of boxes fits one bed: constructions first, then CP-SAT."""

import random
from dataclasses import dataclass, field

from nesting.packing.boxes import Boxes, Spot
from nesting.packing.cp import Answer, solve
from nesting.packing.fill import RULES, fill
from nesting.packing.stop import Stop

Counts = tuple[tuple[int, int], ...]
"""A set of boxes: ``(kind, how many)``, sorted."""

_CONSTRUCTIONS = 20
_BOX_EFFORT = 2e-5


@dataclass
class Fits:
    """Answers for one kind of bed, each found once.

    Attributes
    ----------
    most
        Seconds or effort that one question may take.
    """

    boxes: Boxes
    bed: int
    stop: Stop
    seed: int = 1
    most: float = 0.5
    known: dict[Counts, tuple[Answer, tuple[Spot, ...]]] = field(default_factory=dict)

    def __call__(self, counts: Counts) -> tuple[Answer, tuple[Spot, ...]]:
        """Find the spots of a set of boxes, or that there are none."""
        if counts not in self.known:
            spots = self._constructed(counts)
            self.known[counts] = (Answer.FOUND, spots) if spots else self._searched(counts)
        return self.known[counts]

    def _constructed(self, counts: Counts) -> tuple[Spot, ...]:
        rng = random.Random(self.seed)
        kinds, wanted = self.boxes.kinds, sum(count for _, count in counts)
        keys = [float(kinds[k].area) for k, _ in counts]
        for trial in range(_CONSTRUCTIONS):
            order = [k for _, (k, _) in sorted(zip(keys, counts, strict=True), reverse=True)]
            spots = fill(self.boxes, self.bed, order, dict(counts), RULES[trial % len(RULES)])
            if len(spots) == wanted:
                return spots
            keys = [_length(kinds[k].sizes[0], trial) * (0.5 + rng.random()) for k, _ in counts]
        self.stop.spend(_CONSTRUCTIONS * wanted * _BOX_EFFORT)
        return ()

    def _searched(self, counts: Counts) -> tuple[Answer, tuple[Spot, ...]]:
        if self.stop.reached:
            return Answer.UNKNOWN, ()
        return searched(self.boxes, self.bed, counts, self.stop, self.most)


def _length(size: tuple[int, int], trial: int) -> int:
    return (size[0], size[1], size[0] * size[1], size[0] + size[1])[trial % 4]


def searched(
    boxes: Boxes, bed: int, counts: Counts, stop: Stop, most: float
) -> tuple[Answer, tuple[Spot, ...]]:
    """Ask CP-SAT; where gaps differ, every box keeps the largest, and it is never sure that there is none."""
    from ortools.sat.python import cp_model

    stock = boxes.beds[bed]
    gap = max(boxes.kinds[k].gap for k, _ in counts)
    model = cp_model.CpModel()
    grown_x, grown_y, plain_x, plain_y, chosen = [], [], [], [], []
    for k in (k for k, count in counts for _ in range(count)):
        present = []
        for size, (w, h) in enumerate(boxes.kinds[k].sizes):
            if w > stock.width or h > (stock.height or 0):
                continue
            here = model.new_bool_var("")
            x, y = (
                model.new_int_var(0, stock.width - w, ""),
                model.new_int_var(0, (stock.height or 0) - h, ""),
            )
            grown_x.append(model.new_optional_fixed_size_interval_var(x, w + gap, here, ""))
            grown_y.append(model.new_optional_fixed_size_interval_var(y, h + gap, here, ""))
            plain_x.append(model.new_optional_fixed_size_interval_var(x, w, here, ""))
            plain_y.append(model.new_optional_fixed_size_interval_var(y, h, here, ""))
            present.append(here)
            chosen.append((here, k, size, x, y))
        model.add_exactly_one(present)
    model.add_no_overlap_2d(grown_x, grown_y)
    sides = [boxes.kinds[k].sizes[size] for _, k, size, _, _ in chosen]
    model.add_cumulative(grown_x, [h + gap for _, h in sides], (stock.height or 0) + gap)
    model.add_cumulative(grown_y, [w + gap for w, _ in sides], stock.width + gap)
    if stock.blocked:
        for x0, y0, x1, y1 in stock.blocked:
            plain_x.append(model.new_fixed_size_interval_var(x0, x1 - x0, ""))
            plain_y.append(model.new_fixed_size_interval_var(y0, y1 - y0, ""))
        model.add_no_overlap_2d(plain_x, plain_y)
    answer, solver = solve(model, stop, most)
    if answer is Answer.NONE and len({boxes.kinds[k].gap for k, _ in counts}) > 1:
        return Answer.UNKNOWN, ()
    if answer is not Answer.FOUND:
        return answer, ()
    return answer, tuple(
        Spot(k, size, solver.value(x), solver.value(y))
        for here, k, size, x, y in chosen
        if solver.value(here)
    )
