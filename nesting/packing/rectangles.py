"""The engine for rectangles of different sizes."""

from collections.abc import Callable

from nesting.packing import boxes as box_model
from nesting.packing.problem import Problem
from nesting.packing.result import Layout
from nesting.packing.roll_search import RollSearch
from nesting.packing.sheet_search import SheetSearch
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
        if problem.objective == "length":
            return RollSearch(boxes, stop, seed, report).run()
        return SheetSearch(boxes, stop, seed, report).run().with_changes(engine=self.name)
