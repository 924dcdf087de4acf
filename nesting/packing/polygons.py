"""The engine for any footprint: exact no-fit polygons, every outline, gap, turn and sheet."""

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from nesting.packing.bounds import bound_for
from nesting.packing.filling import Filling, Spot
from nesting.packing.problem import Problem, Sheet
from nesting.packing.result import Layout, Placement
from nesting.packing.room import Room
from nesting.packing.shapes import Shapes
from nesting.packing.stop import Stop
from nesting.units import snap

_PER_TRY = 0.004
"""Effort of looking for a shape's best place once."""


class PolygonEngine:
    """Places any footprints on sheets of any outline."""

    name = "polygons"

    def refusal(self, problem: Problem) -> str | None:  # noqa: ARG002
        """Take every problem."""
        return None

    def pack(self, problem: Problem, stop: Stop, seed: int, report: Callable[[Layout], None]) -> Layout:
        """Fill sheets largest first, then again in other orders until `stop` is reached."""
        search = _Search(problem, stop)
        areas = np.array([item.footprint.area for item in problem.items])
        kinds = np.repeat(np.arange(len(problem.items)), [item.quantity for item in problem.items])
        order = kinds[np.argsort(-areas[kinds], kind="stable")]
        best = search.layout(search.fill(order.tolist()) or [])
        report(best)
        rng = np.random.default_rng(seed)
        while not stop.reached and not best.proven and len(order) > 1:
            keys = np.log(areas[kinds]) + rng.normal(0, 0.3, len(kinds))
            filled = search.fill(kinds[np.argsort(-keys)].tolist(), stop)
            found = search.layout(filled) if filled is not None else best
            if found.better_than(best):
                best = found
                report(best)
        return best


class _Search:
    """One problem's shapes and rooms, and the making of layouts from orders of its items."""

    def __init__(self, problem: Problem, stop: Stop) -> None:
        self.problem, self.stop = problem, stop
        self.shapes = Shapes(problem)
        reach = sum(
            item.quantity * (max(way.bounds[3] - way.bounds[1] for way in ways) + item.gap + 1)
            for item, ways in zip(problem.items, self.shapes.of_item, strict=True)
        )
        self.rooms = [
            Room(sheet, reach + 2 * sheet.margin + sum(k.bounds[3] for k in sheet.keep_outs))
            for sheet in problem.sheets
        ]

    def fill(self, order: Sequence[int], stop: Stop | None = None) -> list[Filling] | None:
        """Put the items in this order, each on the first sheet with a place; None if `stop` came first."""
        fillings: list[Filling] = []
        hopeless: set[tuple[int, int]] = set()
        for kind in order:
            if stop is not None and stop.reached:
                return None
            for n, filling in enumerate(fillings):
                if (n, kind) not in hopeless and self._put(filling, kind):
                    break
                hopeless.add((n, kind))
            else:
                self._open(fillings, kind)
        return fillings

    def _open(self, fillings: list[Filling], kind: int) -> None:
        """Start the best sheet that takes an item of this kind, if one is left."""
        for room in sorted(self.rooms, key=lambda room: self._preference(room.sheet)):
            used = sum(filling.room is room for filling in fillings)
            if room.sheet.quantity is None or used < room.sheet.quantity:
                filling = Filling(room, self.shapes)
                if self._put(filling, kind):
                    fillings.append(filling)
                    return

    def _preference(self, sheet: Sheet) -> float:
        if self.problem.objective == "length":
            return 0.0
        area = sheet.region.area
        return (sheet.cost or 0.0) / area if self.problem.objective == "cost" else -area

    def _put(self, filling: Filling, kind: int) -> bool:
        """Put an item where its top comes out lowest, in any of the ways it may lie."""
        best: Spot | None = None
        for shape in self.shapes.of_item[kind]:
            self.stop.spend(_PER_TRY)
            spot = filling.best(shape)
            if spot is not None and (best is None or _top(spot) < _top(best)):
                best = spot
        if best is not None:
            filling.put(best)
        return best is not None

    def layout(self, fillings: Sequence[Filling]) -> Layout:
        """Write down what lies where."""
        placements = tuple(
            Placement(s.shape.item.name, n, snap(s.x), snap(s.y), s.shape.turn, s.shape.mirrored)
            for n, filling in enumerate(fillings)
            for s in filling.spots
        )
        sheets = tuple(filling.room.sheet for filling in fillings)
        layout = Layout(
            self.problem, sheets, placements, 0.0, engine=PolygonEngine.name, seconds=self.stop.elapsed
        )
        if self.problem.objective == "length" and sheets:
            layout = layout.with_changes(sheets=(replace(sheets[0], height=layout.used_length),))
        bound = bound_for(layout)
        return layout.with_changes(bound=bound.value, bound_reason=bound.reason)


def _top(spot: Spot) -> tuple[float, float]:
    return spot.y + spot.shape.bounds[3], spot.x + spot.shape.bounds[2]
