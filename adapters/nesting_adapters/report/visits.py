"""What the player of a path runs through: visits of pockets, with points the beam passes and their times."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from nesting.geometry.contour import Contour, cos_sin
from nesting.job.job import Machine, MarkSetting
from nesting.motion.moves import move_times
from nesting.motion.sweeping import sweeps_time
from nesting.motion.time import contour_time
from nesting.plan_values import CutSheet, Load, Part, Step
from nesting_adapters.memory import Memory
from nesting_adapters.plan_lookup import Place, Spot, as_run, in_turn, pockets_cut
from nesting_adapters.svg_path_data import number

Points = NDArray[np.float64]

Stay = tuple[Points, float]
"""Points passed on one unit, in the blank's coordinates, and seconds of beam."""

TRAIL_POINTS = 16
"""Points kept of what the beam runs in a pocket: enough for the eye, and never many bytes."""

FLATTEN_MM = 0.2


@dataclass(frozen=True)
class Visit:
    """One stay at a pocket: points passed (mm on the sheet), seconds on the way there and seconds of beam."""

    pocket: int
    trail: Points
    travel_seconds: float
    beam_seconds: float

    @property
    def ends(self) -> tuple[Spot, Spot]:
        """Where the beam first goes on and last goes off."""
        (x0, y0), (x1, y1) = self.trail[0], self.trail[-1]
        return (float(x0), float(y0)), (float(x1), float(y1))


def cut_visits(sheet: CutSheet, machine: Machine, start: Spot) -> list[Visit]:
    """Follow the cut path of a sheet from the corner where the beam waits."""
    pockets = pockets_cut(sheet)

    def stay(number_: int, steps: Sequence[Step]) -> Visit:
        runs = [as_run(pockets[number_].path[step.part], step) for step in steps]
        seconds = sum(contour_time(run, machine.cut_speed, machine.kinematics) for run in runs)
        return Visit(number_, resampled(np.vstack([_along(run) for run in runs])), 0.0, seconds)

    stretches = [(step.pocket, [step]) for step in sheet.cut_path.steps]
    return _timed(stretches, stay, machine, start, sheet.cut_path.seconds)


def mark_visits(
    load: Load, places: Sequence[Place], machine: Machine, start: Spot, known: Memory[Stay]
) -> list[Visit]:
    """Follow the mark path of a load from the corner where the beam waits.

    `known` holds what was worked out for other loads of the plan, and takes in what is worked out now.
    """
    by_pocket = {place.pocket.number: place for place in places}

    def stay(number_: int, steps: Sequence[Step]) -> Visit:
        place = by_pocket[number_]
        runs = tuple((step.part, step.start, step.backwards) for step in steps)
        key = (place.filling.marking, place.setting.name, runs)
        trail, seconds = known.once(key, lambda: _stay(place, steps, machine))
        cos, sin = cos_sin(place.pocket.turn)
        turned = trail @ np.array([[cos, sin], [-sin, cos]]) + (place.pocket.x, place.pocket.y)
        return Visit(number_, turned, 0.0, seconds)

    return _timed(in_turn(load.mark_path.steps), stay, machine, start, load.mark_path.seconds)


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
    """Write visits for the page, y pointing down: pocket, two times in s, then x and y of each point."""
    return ";".join(_encoded(visit, height) for visit in visits)


def _encoded(visit: Visit, height: float) -> str:
    flipped = visit.trail * (1, -1) + (0, height)
    words = [number(visit.travel_seconds, 2), number(visit.beam_seconds, 2)]
    return " ".join([str(visit.pocket), *words, *(number(value, 1) for value in flipped.ravel().tolist())])


def _timed(
    stretches: Iterable[tuple[int, list[Step]]],
    stay: Callable[[int, Sequence[Step]], Visit],
    machine: Machine,
    start: Spot,
    seconds: float,
) -> list[Visit]:
    """Make the visits of a path and stretch their times so that they add up to what the plan estimates."""
    visits = [stay(number_, stretch) for number_, stretch in stretches]
    ends = [np.asarray(start), *(visit.trail[-1] for visit in visits)]
    starts = [visit.trail[0] for visit in visits]
    ways = np.array([there - here for here, there in zip(ends, starts, strict=False)]).reshape(-1, 2)
    times = move_times(ways, machine.travel_speed, machine.kinematics).tolist()
    total = sum(times) + sum(visit.beam_seconds for visit in visits)
    scale = seconds / total if total else 0.0
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
