"""From shapes to runs: the order of lines and blocks, and what it takes."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from nesting.job.job import Machine
from nesting.packing.stop import Stop
from nesting.routing.choose import choose_ways
from nesting.routing.legs import Order
from nesting.routing.search import Task, find_ways
from nesting.routing.shapes import Point, Run, Shape
from nesting.routing.strokes import Ints, Strokes, make_strokes, weighing

MOST_WAYS = 1200
"""Ways offered to the search for as many strokes as it takes at a time, shared evenly among them."""

CLOSER_LOOK = 24
"""Ways offered to a contour of many vertices once its neighbours are known."""


@dataclass(frozen=True)
class Route:
    """Runs in order, and whether none that starts there is better."""

    runs: tuple[Run, ...]
    proven: bool


def find_route(
    shapes: Sequence[Shape],
    machine: Machine | None,
    start: Point,
    stop: Stop,
    seed: int,
    before: Iterable[Order] = (),
    first: Sequence[Run] = (),
    end: Point | None = None,
    starts: Mapping[int, Ints] | None = None,
) -> Route:
    """Order shapes, each once, so that what the beam does between them takes little.

    With a machine time is minimised, without one distance. `before` are pairs of shapes of which
    the first must be run earlier; `first` is a route to begin with; `end` is where the beam must go last.
    `starts` names the vertices where closed contours may start, by the shape's index; the others may
    start anywhere.
    """
    if not shapes:
        return Route((), proven=True)
    most = max(4, min(16, MOST_WAYS // min(len(shapes), 150)))
    strokes = make_strokes(shapes, machine, most, starts)
    task = Task(strokes, start, end, tuple(before))
    found = find_ways(task, stop, seed, as_ways(strokes, first) if first else None)
    runs = as_runs(strokes, found.ways)
    if all(shape.starts <= most or k in (starts or {}) for k, shape in enumerate(shapes)):
        return Route(runs, found.proven)
    return Route(_looked_closer(shapes, machine, start, end, runs), proven=False)


def _looked_closer(
    shapes: Sequence[Shape], machine: Machine | None, start: Point, end: Point | None, runs: tuple[Run, ...]
) -> tuple[Run, ...]:
    """Choose the ways once more, now from all vertices near the neighbours in the route."""
    order = np.array([run.shape for run in runs])
    for _ in range(2):
        strokes = make_strokes(shapes, machine, CLOSER_LOOK, _good_starts(shapes, machine, start, runs))
        again = as_runs(strokes, choose_ways(strokes, order, start, end))
        if again == runs:
            break
        runs = again
    return runs


def _good_starts(
    shapes: Sequence[Shape], machine: Machine | None, start: Point, runs: tuple[Run, ...]
) -> dict[int, Ints]:
    """For each closed contour of many vertices those on the shortest ways between its neighbours."""
    weigh, starts = weighing(machine), {}
    places = [shapes[run.shape].ends(run) for run in runs]
    for k, run in enumerate(runs):
        points = shapes[run.shape].points
        if shapes[run.shape].starts > CLOSER_LOOK:
            detour = weigh(points - (places[k - 1][1] if k else np.array(start)))
            if k + 1 < len(runs):
                detour = detour + weigh(points - places[k + 1][0])
            best = np.argsort(detour, kind="stable")[: CLOSER_LOOK - 1]
            starts[run.shape] = np.unique([run.start, *best.tolist()])
    return starts


def as_runs(strokes: Strokes, ways: Ints) -> tuple[Run, ...]:
    """Give the runs that ways stand for."""
    columns = (strokes.owner[ways].tolist(), strokes.start[ways].tolist(), strokes.backwards[ways].tolist())
    return tuple(Run(*row) for row in zip(*columns, strict=True))


def as_ways(strokes: Strokes, runs: Sequence[Run]) -> Ints:
    """Find a way for each run: its own, or the stroke's first if that is not offered."""
    ways = []
    for run in runs:
        options = strokes.ways(run.shape)
        same = (w for w in options if (strokes.start[w], strokes.backwards[w]) == (run.start, run.backwards))
        ways.append(next(same, options.start))
    return np.array(ways)
