"""The engine for rectangles of different sizes."""

import random
from collections.abc import Callable

from nesting.packing import boxes as box_model
from nesting.packing.boxes import Boxes, Filled
from nesting.packing.fill import RULES, fill
from nesting.packing.problem import Problem
from nesting.packing.result import Layout
from nesting.packing.stop import Stop


class RectangleEngine:
    """Packs rectangles, turned by right angles, onto rectangular sheets or a roll."""

    name = "rectangles"

    def refusal(self, problem: Problem) -> str | None:
        """Say why this engine cannot take the problem; None if it can."""
        return box_model.refusal(problem)

    def pack(self, problem: Problem, stop: Stop, seed: int, report: Callable[[Layout], None]) -> Layout:
        """Pack until the bound is reached or `stop` says so."""
        boxes = box_model.read(problem)
        rng = random.Random(seed)
        best: Layout | None = None
        for trial in range(200):
            layout = boxes.layout(_construct(boxes, rng, trial), engine=self.name)
            if layout.better_than(best):
                best = layout
                report(layout)
            if stop.reached:
                break
        assert best is not None
        return best


def _construct(boxes: Boxes, rng: random.Random, trial: int) -> list[Filled]:
    left = {k: kind.quantity for k, kind in enumerate(boxes.kinds)}
    noise = 0.0 if trial == 0 else 0.4
    order = sorted(left, key=lambda k: -boxes.kinds[k].area * (1 + noise * rng.random()))
    rule = RULES[trial % len(RULES)]
    filled: list[Filled] = []
    high = sum(max(max(size) for size in kind.sizes) * kind.quantity for kind in boxes.kinds)
    for bed in range(len(boxes.beds)):
        for _ in range(boxes.beds[bed].quantity):
            spots = fill(boxes, bed, order, left, rule, high)
            if not spots:
                break
            filled.append((bed, spots))
    return filled
