"""The order in which to run contours: the public door to path ordering without a job."""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import networkx as nx
import numpy as np

from nesting.errors import InputError, Problem
from nesting.geometry.contour import Contour
from nesting.job.job import Machine
from nesting.packing.stop import Stop
from nesting.routing.bound import path_bound
from nesting.routing.circuit import MOST_WAYS
from nesting.routing.circuit import prove as prove_path
from nesting.routing.legs import Legs
from nesting.routing.route import as_runs, as_ways, find_route
from nesting.routing.shapes import Line, Point, Run, measure
from nesting.routing.strokes import Ints, make_strokes


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
    starts: Mapping[int, Sequence[int]] | None = None,
    before: Sequence[tuple[int, int]] = (),
    cancelled: Callable[[], bool] = bool,
) -> PathOrder:
    """Order contours so that the beam moves little between them.

    A closed contour may start at any of its vertices, or at those that `starts` names, where it also
    ends; an open one may be run either way. With a machine the time is minimised, without one the
    travel.

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
        Whether to compute the bound too, after the search: by spanning trees, then, for up to some 250
        ways to run the contours, by CP-SAT within as much time again, which may improve the path.
    starts
        The vertices where closed contours may start, by the contour's index.
    before
        Pairs of contours of which the first is run earlier.
    cancelled
        Asked now and then; answering True ends the search with the best so far.

    Raises
    ------
    ValueError
        If both `seconds` and `effort` are given.
    nesting.errors.InputError
        With every argument that is wrong: something that is no contour, a start that is no point or no
        vertex, pairs that name no contours or go in a circle.

    Examples
    --------
    >>> far, near = Contour.polyline([(90, 0), (90, 9)], closed=False), Contour.circle(10, x=45)
    >>> path = order_path([far, near])
    >>> [step.contour for step in path.steps], path.travel, round(path.given_travel, 1)
    ([1, 0], 90.0, 140.8)
    >>> order_path([]).steps
    ()

    Two squares, entered in the middle of the upper edge alone, the far one first:

    >>> def square(x):
    ...     return Contour.polyline([(x, 0), (x + 20, 0), (x + 20, 20), (x + 10, 20), (x, 20)])
    >>> path = order_path([square(0), square(30)], starts={0: [3], 1: [3]}, before=[(1, 0)], prove=True)
    >>> [(step.contour, step.start) for step in path.steps], path.proven
    ([(1, 3), (0, 3)], True)
    """
    if seconds is None and effort is None:
        seconds = 1.0
    _refuse_wrong(contours, start)
    _refuse_impossible(contours, starts or {}, before)
    model = machine or Machine(0.0, 0.0)
    lines = [Line(contour, model.cut_speed) for contour in contours]
    as_given = tuple(map(Run, range(len(lines))))
    offered = {k: np.unique(vertices) for k, vertices in (starts or {}).items() if contours[k].closed}
    # as given is a route to begin with unless something else is asked for
    first = () if before or offered else as_given
    stop = Stop(seconds, effort, cancelled)
    route = find_route(lines, machine, start, stop, seed, before, first, starts=offered)
    if prove and not route.proven and lines:
        again = Stop(seconds, effort, cancelled)
        runs, bound = _bounded(route.runs, lines, machine, start, offered, before, again, seed)
    else:
        runs, bound = route.runs, None
    found = measure(lines, runs, start, model)
    given = measure(lines, as_given, start, model)
    steps = tuple(ContourStep(run.shape, run.start, run.backwards) for run in runs)
    reached = found.seconds if machine else found.travel
    proven = route.proven or (bound is not None and bound >= reached * (1 - 1e-9))
    return PathOrder(
        steps,
        found.travel,
        given.travel,
        found.beam,
        found.seconds if machine else None,
        given.seconds if machine else None,
        proven,
        (reached if proven else min(bound or 0.0, reached)) if prove else None,
    )


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


def _refuse_impossible(
    contours: Sequence[Contour], starts: Mapping[int, Sequence[int]], before: Sequence[tuple[int, int]]
) -> None:
    problems = []
    for k, vertices in starts.items():
        count = len(contours[k].vertices) if 0 <= k < len(contours) else 0
        if not vertices or not all(0 <= vertex < count for vertex in vertices):
            allowed = (
                f"one or more vertices of contour {k}, 0 to {count - 1}" if count else "a contour's index"
            )
            problems.append(Problem("", f"starts[{k}]", f"found {list(vertices)!r}; allowed: {allowed}"))
    for turn, pair in enumerate(before):
        if len(pair) != 2 or not all(0 <= k < len(contours) for k in pair):
            problems.append(Problem("", f"before[{turn}]", f"found {pair!r}; allowed: two contours' indices"))
    if not problems and not nx.is_directed_acyclic_graph(nx.DiGraph(list(before))):
        problems.append(
            Problem("", "before", "the pairs go in a circle; allowed: pairs that some order keeps")
        )
    if problems:
        raise InputError(problems)


def _bounded(
    runs: tuple[Run, ...],
    lines: Sequence[Line],
    machine: Machine | None,
    start: Point,
    starts: Mapping[int, Ints],
    before: Sequence[tuple[int, int]],
    stop: Stop,
    seed: int,
) -> tuple[tuple[Run, ...], float]:
    """Give what no path undercuts, and a better path where the proof found one."""
    strokes = make_strokes(lines, machine, max(line.starts for line in lines), starts)
    offered = [starts.get(k, range(max(line.starts, 1))) for k, line in enumerate(lines)]
    # what the beam itself takes at the least
    running = math.fsum(
        float(line.times(list(k), machine).min()) if machine else 0.0
        for line, k in zip(lines, offered, strict=True)
    )
    ways = as_ways(strokes, runs)
    reached = strokes.total(ways, start)
    bound = path_bound(strokes, start, reached)
    if bound < reached * (1 - 1e-9) and len(strokes.owner) <= MOST_WAYS:
        proof = prove_path(Legs.of(strokes, start, None, before), ways, stop, seed)
        bound = max(bound, proof.bound)
        runs = runs if proof.ways is None else as_runs(strokes, proof.ways)
    return runs, bound + running
