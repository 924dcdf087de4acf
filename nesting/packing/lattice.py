"""The engine for equal blanks: one layout that is as full as can be, repeated over the sheets."""

from collections.abc import Callable

from nesting.packing import boxes as box_model
from nesting.packing.blocks import Blocks
from nesting.packing.boxes import Bed, Boxes, Filled, Kind, Spot
from nesting.packing.pool import Pool, trimmed
from nesting.packing.problem import Problem
from nesting.packing.result import Layout
from nesting.packing.rising import fill_rising
from nesting.packing.rows import centres
from nesting.packing.stop import Stop

_CHOICE_SECONDS = 2.0


class LatticeEngine:
    """Packs one kind of rectangle or circle onto whole rectangular sheets."""

    name = "lattice"

    def refusal(self, problem: Problem) -> str | None:
        """Say why this engine cannot take the problem; None if it can."""
        circles = all(item.footprint.is_circle for item in problem.items)
        if not circles and not all(item.footprint.is_rectangle for item in problem.items):
            return "the footprints are not all rectangles or all circles"
        if any(item.edge is not None for item in problem.items):
            return "an item may reach beyond the sheet's edge"
        if any(sheet.keep_outs or sheet.height is None for sheet in problem.sheets):
            return "a sheet has keep-outs or is a roll"
        if any(sheet.outline is not None and not sheet.outline.is_rectangle for sheet in problem.sheets):
            return "a sheet's outline is no rectangle"
        if not circles and box_model.refusal(problem):
            return box_model.refusal(problem)
        if len(box_model.read(problem).kinds) > 1:
            return "the footprints, their turns or their gaps are not all equal"
        return None

    def pack(self, problem: Problem, stop: Stop, seed: int, report: Callable[[Layout], None]) -> Layout:  # noqa: ARG002
        """Pack; there is no chance in it, so the seed changes nothing."""
        circles = problem.items[0].footprint.is_circle
        boxes = box_model.read(problem, scaled=not circles)
        fill = _circles if circles else _rectangles
        full = [(index, fill(boxes.kinds[0], bed)) for index, bed in enumerate(boxes.beds)]
        layout = boxes.layout(_repeated(boxes, full, stop), engine=self.name)
        report(layout)
        return layout


def _rectangles(kind: Kind, bed: Bed) -> tuple[Spot, ...]:
    (w, h), width, height = kind.sizes[0], bed.width + kind.gap, (bed.height or 0) + kind.gap
    w, h = w + kind.gap, h + kind.gap
    if len(kind.sizes) == 1:
        return tuple(Spot(0, 0, x * w, y * h) for y in range(height // h) for x in range(width // w))
    if min(width, height) < min(w, h):
        return ()
    cells = Blocks(w, h, width, height).cells()
    most = width * height // (w * h)
    if len(cells) == most - 1:
        cells = fill_rising(w, h, width, height, most) or cells
    return tuple(Spot(0, 0 if cw == w else 1, x, y) for x, y, cw, _ in cells)


def _circles(kind: Kind, bed: Bed) -> tuple[Spot, ...]:
    diameter = kind.sizes[0][0]
    room = centres(bed.width - diameter, (bed.height or 0) - diameter, diameter + kind.gap)
    return tuple(Spot(0, 0, x, y) for x, y in room)


def _repeated(boxes: Boxes, full: list[Filled], stop: Stop) -> list[Filled]:
    """Use the full beds as often as it takes, the choice among several kinds of bed made by CP-SAT."""
    if len(full) > 1:
        pool = Pool(boxes)
        for filled in full:
            if filled[1]:
                pool.add(filled)
        worth = 1 + sum(bed.cost for bed in boxes.beds) + len(boxes.beds)
        return pool.choose(stop, _CHOICE_SECONDS, worth)
    times = -(-boxes.kinds[0].quantity // max(len(full[0][1]), 1))
    return trimmed(boxes, full * min(times, boxes.beds[0].quantity))
