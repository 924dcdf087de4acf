"""What the player of a path runs through: visits of pockets, with points the beam passes and their times."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from nesting.geometry.contour import Contour, cos_sin
from nesting.job.job import Machine, MarkSetting
from nesting.motion.moves import move_times
from nesting.motion.sweeping import sweeps_time
from nesting.motion.time import contour_time
from nesting.plan_values import CutSheet, Load, Part, Step
from nesting_adapters.memory import Memory
from nesting_adapters.plan_lookup import Place, Spot, as_run
from nesting_adapters.plan_runs import MarkRun, cut_runs, mark_runs
from nesting_adapters.svg_path_data import number

Points = NDArray[np.float64]

Stay = tuple[Points, float]
"""Points passed, on one unit in the blank's coordinates, and seconds of beam."""

TRAIL_POINTS = 16
"""Points kept of what the beam runs in a pocket: enough for the eye, and never many bytes."""

MOST_ROWS = 40
"""Rows shown of what is swept across several pockets."""

FLATTEN_MM = 0.2


@dataclass(frozen=True)
class Visit:
    """One stay at a pocket, or at several that are swept together.

    Attributes
    ----------
    pockets
        Their numbers.
    trail
        Points passed, mm on the sheet.
    beam_seconds, wait_seconds, travel_seconds
        Time with the beam on, of waiting before it goes on (for neighbours to cool, or for the focus), and
        on the way there.
    """

    pockets: tuple[int, ...]
    trail: Points
    beam_seconds: float
    wait_seconds: float = 0.0
    travel_seconds: float = 0.0

    @property
    def ends(self) -> tuple[Spot, Spot]:
        """Where the beam first goes on and last goes off."""
        (x0, y0), (x1, y1) = self.trail[0], self.trail[-1]
        return (float(x0), float(y0)), (float(x1), float(y1))


def cut_visits(sheet: CutSheet, machine: Machine, start: Spot) -> list[Visit]:
    """Follow the cut path of a sheet, leads included, from the corner where the beam waits."""
    visits = []
    for run in cut_runs(sheet):
        seconds = contour_time(run.line, machine.cut_speed, machine.kinematics)
        visits.append(Visit((run.pocket.number,), resampled(_along(run.line)), seconds, run.wait))
    return _timed(visits, machine, start, sheet.cut_path.seconds)


def mark_visits(
    load: Load, places: Sequence[Place], machine: Machine, start: Spot, known: Memory[Stay]
) -> list[Visit]:
    """Follow the mark path of a load from the corner where the beam waits.

    `known` holds what was worked out for other loads of the plan, and takes in what is worked out now.
    """
    visits = []
    for pockets, group in groupby(mark_runs(load, places), key=lambda run: run.pockets):
        runs = list(group)
        if len(pockets) > 1:
            visits += [_swept_visit(run, machine, known) for run in runs]
        else:
            visits.append(_unit_visit(runs[0].place, [s for run in runs for s in run.steps], machine, known))
    return _timed(visits, machine, start, load.mark_path.seconds)


def _unit_visit(place: Place, steps: Sequence[Step], machine: Machine, known: Memory[Stay]) -> Visit:
    """Stay at one unit."""
    runs = tuple((step.part, step.start, step.backwards) for step in steps)
    key = (place.filling.marking, place.setting.name, runs)
    trail, seconds = known.once(key, lambda: _stay(place, steps, machine))
    cos, sin = cos_sin(place.pocket.turn)
    turned = trail @ np.array([[cos, sin], [-sin, cos]]) + (place.pocket.x, place.pocket.y)
    return Visit((place.pocket.number,), turned, seconds, steps[0].wait)


def _swept_visit(run: MarkRun, machine: Machine, known: Memory[Stay]) -> Visit:
    """Sweep several units together, row by row."""
    rows, seconds = known.once(run.key, lambda: _rows_swept(run, machine))
    return Visit(run.pockets, rows, seconds, run.steps[0].wait)


def _rows_swept(run: MarkRun, machine: Machine) -> Stay:
    sweeps = tuple((a[0], a[1], b[0], b[1]) for a, b in (stroke.vertices for stroke in run.strokes))
    setting = run.place.setting
    seconds = sweeps_time(sweeps, setting.speed, machine.travel_speed, machine.kinematics)
    return _rows(np.array(sweeps)), seconds * setting.passes


def _rows(sweeps: Points) -> Points:
    """Give the ends of the rows that sweeps, shape (n, 4), make up, of some rows only if there are many.

    >>> _rows(np.array([[0.0, 0, 1, 0], [2, 0, 3, 0], [3, 1, 0, 1]])).tolist()
    [[0.0, 0.0], [3.0, 0.0], [3.0, 1.0], [0.0, 1.0]]
    """
    ways = sweeps[:, 2:] - sweeps[:, :2]
    # every row is run against the one before
    turns = np.flatnonzero((ways[1:] * ways[:-1]).sum(axis=1) < 0) + 1
    first, last = np.concatenate([[0], turns]), np.concatenate([turns, [len(sweeps)]]) - 1
    shown = np.unique(np.linspace(0, len(first) - 1, MOST_ROWS).round().astype(int))
    return np.column_stack([sweeps[first[shown], :2], sweeps[last[shown], 2:]]).reshape(-1, 2)


def _stay(place: Place, steps: Sequence[Step], machine: Machine) -> Stay:
    parts = [(place.part(step), step) for step in steps]
    seconds = sum(_part_seconds(part, place.setting, machine) for part, _ in parts)
    return resampled(np.vstack([_passed(part, step) for part, step in parts])), seconds


def resampled(points: Points, count: int = TRAIL_POINTS) -> Points:
    """Thin a line of points, shape (n, 2), to `count` at even distances along it, both ends kept.

    >>> resampled(np.array([(0.0, 0.0), (10.0, 0.0), (10.0, 10.0)]), 3).tolist()
    [[0.0, 0.0], [10.0, 0.0], [10.0, 10.0]]
    """
    if len(points) <= count:
        return points
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    stops = np.linspace(0.0, along[-1], count)
    return np.stack([np.interp(stops, along, points[:, axis]) for axis in (0, 1)], axis=1)


def encoded(visits: Sequence[Visit], height: float) -> str:
    """Write visits for the page, y pointing down.

    Each is its pockets with commas, seconds of travel, of waiting and of beam, then x and y of each point.
    """
    return ";".join(_encoded(visit, height) for visit in visits)


def _encoded(visit: Visit, height: float) -> str:
    flipped = visit.trail * (1, -1) + (0, height)
    times = (visit.travel_seconds, visit.wait_seconds, visit.beam_seconds)
    words = [",".join(map(str, visit.pockets)), *(number(time, 2) for time in times)]
    return " ".join([*words, *(number(value, 1) for value in flipped.ravel().tolist())])


def _timed(visits: Iterable[Visit], machine: Machine, start: Spot, seconds: float) -> list[Visit]:
    """Time the ways between visits; what is not waited for is stretched to add up to the plan's estimate."""
    visits = list(visits)
    ends = [np.asarray(start), *(visit.trail[-1] for visit in visits)]
    starts = [visit.trail[0] for visit in visits]
    ways = np.array([there - here for here, there in zip(ends, starts, strict=False)]).reshape(-1, 2)
    times = move_times(ways, machine.travel_speed, machine.kinematics).tolist()
    total = sum(times) + sum(visit.beam_seconds for visit in visits)
    scale = (seconds - sum(visit.wait_seconds for visit in visits)) / total if total else 0.0
    return [
        replace(visit, travel_seconds=scale * time, beam_seconds=scale * visit.beam_seconds)
        for visit, time in zip(visits, times, strict=True)
    ]


def _along(contour: Contour) -> Points:
    points = np.asarray(contour.flattened(FLATTEN_MM), dtype=float)
    return np.vstack([points, points[:1]]) if contour.closed else points


def _passed(part: Part, step: Step) -> Points:
    """Give the points of a part in the order in which a step passes them, in the blank's coordinates."""
    if part.kind == "line":
        return _along(as_run(part.contours[0], step))
    # an area too small for a sweep is left where it begins
    points = np.array(part.sweeps or [part.contours[0].vertices[0][:2]], dtype=float).reshape(-1, 2)
    return points[::-1] if step.backwards else points


def _part_seconds(part: Part, setting: MarkSetting, machine: Machine) -> float:
    if part.kind == "line":
        once = contour_time(part.contours[0], setting.speed, machine.kinematics)
    else:
        once = sweeps_time(part.sweeps, setting.speed, machine.travel_speed, machine.kinematics)
    return once * setting.passes
