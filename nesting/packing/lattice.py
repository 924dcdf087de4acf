"""The engine for equal blanks: one layout that is as full as can be, repeated over the sheets."""

from collections.abc import Callable

from nesting.packing import boxes as box_model
from nesting.packing.blocks import Blocks
from nesting.packing.boxes import Bed, Boxes, Spot
from nesting.packing.problem import Problem
from nesting.packing.result import Layout
from nesting.packing.stop import Stop


class LatticeEngine:
    """Packs one kind of rectangle or circle onto whole rectangular sheets."""

    name = "lattice"

    def refusal(self, problem: Problem) -> str | None:
        """Say why this engine cannot take the problem; None if it can."""
        reason = box_model.refusal(problem)
        if reason:
            return reason
        if any(sheet.keep_outs for sheet in problem.sheets):
            return "a sheet has keep-outs"
        if len(box_model.read(problem).kinds) > 1:
            return "the footprints are not all equal"
        return None

    def pack(self, problem: Problem, stop: Stop, seed: int, report: Callable[[Layout], None]) -> Layout:
        """Pack; the seed changes nothing, for there is no chance in it."""
        boxes = box_model.read(problem)
        full = [_fullest(boxes, bed) for bed in boxes.beds]
        layout = boxes.layout(_repeat(boxes, full), engine=self.name)
        report(layout)
        return layout


def _fullest(boxes: Boxes, bed: Bed) -> tuple[Spot, ...]:
    kind = boxes.kinds[0]
    w, h = kind.sizes[0]
    height = bed.height
    if height is None:
        across = (bed.width + kind.gap) // (w + kind.gap)
        rows = -(-kind.quantity // max(across, 1))
        height = rows * (h + kind.gap)
    return _grid_or_blocks(kind.sizes, kind.gap, bed.width + kind.gap, height + kind.gap)


def _grid_or_blocks(
    sizes: tuple[tuple[int, int], ...], gap: int, width: int, height: int
) -> tuple[Spot, ...]:
    w, h = sizes[0][0] + gap, sizes[0][1] + gap
    if len(sizes) == 1:
        return tuple(Spot(0, 0, x * w, y * h) for y in range(height // h) for x in range(width // w))
    cells = Blocks(w, h, width, height).cells()
    return tuple(Spot(0, 0 if cw == w else 1, x, y) for x, y, cw, _ in cells)


def _repeat(boxes: Boxes, full: list[tuple[Spot, ...]]) -> list[tuple[int, tuple[Spot, ...]]]:
    """Use the sheets that give the most for their cost, and the last ones only in part."""
    left = boxes.kinds[0].quantity
    filled: list[tuple[int, tuple[Spot, ...]]] = []
    costly = boxes.problem.objective == "cost"
    for bed in sorted(
        range(len(full)),
        key=lambda k: boxes.beds[k].cost / max(len(full[k]), 1) if costly else -len(full[k]),
    ):
        for _ in range(boxes.beds[bed].quantity):
            if left <= 0 or not full[bed]:
                break
            filled.append((bed, full[bed][:left]))
            left -= len(filled[-1][1])
    return filled
