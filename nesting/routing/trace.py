"""Traces: what is followed with the beam off, to see where a sheet or its marks will lie."""

import math
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache

import numpy as np

from nesting.geometry.drawing import joint_bounds
from nesting.geometry.region import Region
from nesting.job.job import Machine
from nesting.motion.moves import move_times
from nesting.plan_values import Filling, Marking, Pocket, Trace
from nesting.routing.shapes import Point

FINE_MM = 0.1
"""Outlines are traced this closely."""

Box = tuple[float, float, float, float]


def outline_trace(outline: Region, machine: Machine, start: Point) -> Trace:
    """Trace the outline of a sheet, from its place nearest to the start on.

    >>> trace = outline_trace(Region.rectangle(300, 200), Machine(600, 400), (0.0, 0.0))
    >>> trace.points[0], len(trace.points)
    ((0.0, 0.0), 4)
    """
    return _trace([(float(x), float(y)) for x, y in outline.outer.flattened(FINE_MM)], machine, start)


def marks_trace(
    fillings: Iterable[Filling],
    pockets: Mapping[int, Pocket],
    markings: Mapping[str, Marking],
    machine: Machine,
    start: Point,
) -> Trace:
    """Trace the rectangle round everything that is marked in a load; nothing if nothing is."""
    boxes = []
    for filling in fillings:
        if filling.marking is not None:
            pocket = pockets[filling.pocket]
            x0, y0, x1, y1 = _extent(markings[filling.marking], pocket.turn)
            boxes.append((x0 + pocket.x, y0 + pocket.y, x1 + pocket.x, y1 + pocket.y))
    if not boxes:
        return Trace()
    x0, y0, x1, y1 = joint_bounds(boxes)
    return _trace([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], machine, start)


@lru_cache(maxsize=4096)
def _extent(marking: Marking, turn: float) -> Box:
    """Find the box round a marking on a blank that lies at (0, 0)."""
    contours = [contour for part in marking.parts for contour in part.contours]
    return joint_bounds([contour.moved(turn=turn).bounds for contour in contours])


def _trace(points: Sequence[Point], machine: Machine, start: Point) -> Trace:
    first = min(range(len(points)), key=lambda k: math.dist(points[k], start))
    ring = [*points[first:], *points[:first]]
    hops = np.diff(np.array([start, *ring, ring[0]]), axis=0)
    times = move_times(hops, machine.travel_speed, machine.kinematics)
    return Trace(tuple(ring), float(times.sum()))
