"""The order in which to run contours: the public door to path ordering without a job."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from nesting.errors import InputError, Problem
from nesting.geometry.contour import Contour
from nesting.job.job import Machine
from nesting.packing.stop import Stop
from nesting.routing.bound import path_bound
from nesting.routing.route import find_route
from nesting.routing.shapes import Line, Point, Run, measure
from nesting.routing.strokes import make_strokes


@dataclass(frozen=True)
class ContourStep:
    """A contour of a path, by its index: where a closed one starts, which way an open one is run."""

    contour: int
    start: int = 0
    backwards: bool = False


@dataclass(frozen=True)
class PathOrder:
    """Contours in running order; lengths in mm.

    Attributes
    ----------
    steps
        Every contour once.
    travel, given_travel
        Beam-off distance from the start to the end of the last contour, in this order and in the one
        given (each contour as drawn).
    beam
        Length of the contours.
    seconds, given_seconds
        Time estimates of the two orders; None without a machine.
    proven
        Whether no order is better.
    bound
        No order has less travel, or with a machine takes less time, than this; None unless asked for.
    """

    steps: tuple[ContourStep, ...]
    travel: float
    given_travel: float
    beam: float
    seconds: float | None
    given_seconds: float | None
    proven: bool
    bound: float | None = None


def order_path(
    contours: Sequence[Contour],
    *,
    machine: Machine | None = None,
    start: Point = (0.0, 0.0),
    seconds: float | None = None,
    effort: float | None = None,
    seed: int = 1,
    prove: bool = False,
    cancelled: Callable[[], bool] = bool,
) -> PathOrder:
    """Order contours so that the beam moves little between them.

    A closed contour may start at any of its vertices, where it also ends; an open one may be run
    either way. With a machine the time is minimised, without one the travel.

    Parameters
    ----------
    contours
        What to run, each once.
    machine
        Speeds and acceleration; contours are followed at its cutting speed.
    start
        Where the beam is before, mm.
    seconds
        Wall-clock limit; 1 if neither it nor `effort` is given. Small sets are solved at once.
    effort
        The reproducible alternative: see `nesting.packing.stop.Stop`.
    seed
        For the search.
    prove
        Whether to compute the bound too, after the search.
    cancelled
        Asked now and then; answering True ends the search with the best so far.

    Raises
    ------
    ValueError
        If both `seconds` and `effort` are given.
    nesting.errors.InputError
        With every argument that is wrong: something that is no contour, a start that is no point.

    Examples
    --------
    >>> far, near = Contour.polyline([(90, 0), (90, 9)], closed=False), Contour.circle(10, x=45)
    >>> path = order_path([far, near])
    >>> [step.contour for step in path.steps], path.travel, round(path.given_travel, 1)
    ([1, 0], 90.0, 140.8)
    >>> order_path([]).steps
    ()
    """
    if seconds is None and effort is None:
        seconds = 1.0
    _refuse_wrong(contours, start)
    model = machine or Machine(0.0, 0.0)
    lines = [Line(contour, model.cut_speed) for contour in contours]
    as_given = tuple(map(Run, range(len(lines))))
    route = find_route(lines, machine, start, Stop(seconds, effort, cancelled), seed, first=as_given)
    found = measure(lines, route.runs, start, model)
    given = measure(lines, as_given, start, model)
    steps = tuple(ContourStep(run.shape, run.start, run.backwards) for run in route.runs)
    order = PathOrder(
        steps,
        found.travel,
        given.travel,
        found.beam,
        found.seconds if machine else None,
        given.seconds if machine else None,
        route.proven,
    )
    return _bounded(order, lines, machine, start) if prove else order


def _refuse_wrong(contours: Sequence[Contour], start: Point) -> None:
    problems = [
        Problem("", f"contours[{k}]", f"found {type(contour).__name__}; allowed: a Contour")
        for k, contour in enumerate(contours)
        if not isinstance(contour, Contour)
    ]
    if len(start) != 2 or not all(map(math.isfinite, start)):
        problems.append(Problem("", "start", f"found {start!r}; allowed: two finite numbers, mm"))
    if problems:
        raise InputError(problems)


def _bounded(order: PathOrder, lines: Sequence[Line], machine: Machine | None, start: Point) -> PathOrder:
    """Add the bound, and the proof where the path meets it."""
    reached = order.travel if order.seconds is None else order.seconds
    if order.proven:
        return replace(order, bound=reached)
    strokes = make_strokes(lines, machine, max(line.starts for line in lines))
    # what the beam itself takes at the least
    starts = [range(max(line.starts, 1)) for line in lines]
    running = (
        sum(float(line.times(k, machine).min()) for line, k in zip(lines, starts, strict=True))
        if machine
        else 0.0
    )
    bound = path_bound(strokes, start, reached - running) + running
    return replace(order, bound=min(bound, reached), proven=bound >= reached * (1 - 1e-9))
