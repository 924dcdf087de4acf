"""A route unit by unit: the units in order, and within each the way through its shapes.

Units of one kind that lie alike among their neighbours share one answer, so a bed of hundreds of
units costs little more than a few.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise

import numpy as np

from nesting.geometry.contour import cos_sin
from nesting.job.job import Machine
from nesting.packing.stop import Stop
from nesting.routing.legs import Order
from nesting.routing.route import find_route
from nesting.routing.search import Task, find_ways
from nesting.routing.shapes import Floats, Place, Point, Run, Shape
from nesting.routing.strokes import Strokes, weighing

Gate = tuple[int, int]
"""Where a unit is entered or left, in whole mm of its own coordinates."""


@dataclass(frozen=True)
class UnitShapes:
    """The shapes of one unit, all with one place; units of the same kind have equal shapes.

    `before` are pairs of shapes of which the first must be run earlier.
    """

    kind: str
    shapes: tuple[Shape, ...]
    before: tuple[Order, ...] = ()

    @property
    def place(self) -> Place:
        """Where the unit lies."""
        return self.shapes[0].place

    @cached_property
    def centre(self) -> Floats:
        """Middle of its shapes on the sheet."""
        return np.asarray(np.mean([shape.points.mean(axis=0) for shape in self.shapes], axis=0))

    def gate(self, point: Floats) -> Gate:
        """Put a point of the sheet into the unit's own coordinates."""
        x, y, turn = self.place
        c, s = cos_sin(turn)
        dx, dy = float(point[0]) - x, float(point[1]) - y
        return round(c * dx + s * dy), round(c * dy - s * dx)


def route_by_units(
    units: Sequence[UnitShapes], machine: Machine, start: Point, stop: Stop, seed: int
) -> tuple[Run, ...]:
    """Order units, then run each from the middle between it and the one before to the middle to the next.

    Returns
    -------
    Runs whose shapes are numbered through all units in the order given.
    """
    part = stop.part(0.2)
    order = _order(units, machine, start, part, seed)
    stop.spend(part.spent)
    visits = _visits([units[k] for k in order], start)
    routes: dict[tuple[str, Gate, Gate | None], tuple[Run, ...]] = {}
    wanted = {(units[k].kind, *gates): units[k] for k, gates in zip(order, visits, strict=True)}
    for turn, (visit, unit) in enumerate(wanted.items()):
        part = stop.part(1 / (len(wanted) - turn))
        shapes = [replace(shape, place=(0.0, 0.0, 0.0)) for shape in unit.shapes]
        _, gate_in, gate_out = visit
        route = find_route(shapes, machine, gate_in, part, seed, unit.before, end=gate_out)
        routes[visit] = route.runs
        stop.spend(part.spent)
    firsts = np.cumsum([0, *(len(unit.shapes) for unit in units)])
    return tuple(
        replace(run, shape=int(firsts[k]) + run.shape)
        for k, gates in zip(order, visits, strict=True)
        for run in routes[units[k].kind, *gates]
    )


def _order(units: Sequence[UnitShapes], machine: Machine, start: Point, stop: Stop, seed: int) -> list[int]:
    """Order units by their centres."""
    count = len(units)
    centres = np.array([unit.centre for unit in units])
    none = np.zeros(count, dtype=np.int64)
    weigh = weighing(machine)
    strokes = Strokes(np.arange(count), centres, centres, np.zeros(count), none, none > 0, weigh)
    order: list[int] = find_ways(Task(strokes, start), stop, seed).ways.tolist()
    return order


def _visits(units: Sequence[UnitShapes], start: Point) -> list[tuple[Gate, Gate | None]]:
    """Gates by which each unit is entered and left; the last one may be left anywhere."""
    centres = [unit.centre for unit in units]
    middles = [(a + b) / 2 for a, b in pairwise(centres)]
    gates_in = [unit.gate(point) for unit, point in zip(units, [np.array(start), *middles], strict=True)]
    gates_out: list[Gate | None] = [
        *(unit.gate(point) for unit, point in zip(units, middles, strict=False)),
        None,
    ]
    return list(zip(gates_in, gates_out, strict=True))
