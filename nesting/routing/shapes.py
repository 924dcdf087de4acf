"""What a beam runs in one go, where it lies on the sheet, and what running it takes."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from nesting.geometry.contour import Contour, cos_sin
from nesting.job.job import Machine
from nesting.motion.moves import move_times
from nesting.motion.sweeping import Sweep, sweeps_time
from nesting.motion.time import start_times

Floats = NDArray[np.float64]
Point = tuple[float, float]
Place = tuple[float, float, float]
"""Shift x, y in mm after a turn in degrees round (0, 0)."""


@dataclass(frozen=True)
class Run:
    """One shape of a path, by its index, and how it is run: see `nesting.plan_values.Step`."""

    shape: int
    start: int = 0
    backwards: bool = False


@dataclass(frozen=True)
class Line:
    """A contour to be followed `passes` times at `speed` mm/s, put on the sheet by `place`.

    In each pass the head stands `dwell` seconds while the beam goes on and off.
    """

    contour: Contour
    speed: float
    passes: int = 1
    place: Place = (0.0, 0.0, 0.0)
    dwell: float = 0.0

    @cached_property
    def points(self) -> Floats:
        """The contour's vertices on the sheet."""
        return _placed(self.contour.points, self.place)

    @property
    def starts(self) -> int:
        """At how many vertices a closed contour may start; 0 for an open one, which runs two ways."""
        return len(self.contour.vertices) if self.contour.closed else 0

    @property
    def beam(self) -> float:
        """Beam-on length in mm."""
        return self.passes * _length(self.contour)

    def ends(self, run: Run) -> tuple[Floats, Floats]:
        """Where the beam goes on and off."""
        if self.contour.closed:
            return self.points[run.start], self.points[run.start]
        return (self.points[-1], self.points[0]) if run.backwards else (self.points[0], self.points[-1])

    def times(self, starts: Sequence[int], machine: Machine) -> Floats:
        """Seconds for all passes from each of some vertices, return moves between passes included."""
        once = self.dwell + start_times(self.contour, starts, self.speed, machine.kinematics, self.place[2])
        if self.passes == 1:
            return once
        back = 0.0 if self.contour.closed else _back(self.points, machine)
        return self.passes * once + (self.passes - 1) * back


@dataclass(frozen=True)
class Block:
    """Sweeps to be run `passes` times at `speed` mm/s in their order, or all of them the other way."""

    sweeps: tuple[Sweep, ...]
    speed: float
    passes: int = 1
    place: Place = (0.0, 0.0, 0.0)

    starts = 0

    @cached_property
    def points(self) -> Floats:
        """The two ends on the sheet."""
        return _placed(np.array([self.sweeps[0][:2], self.sweeps[-1][2:]], dtype=float), self.place)

    @property
    def beam(self) -> float:
        """Beam-on length in mm."""
        return self.passes * math.fsum(math.hypot(x1 - x0, y1 - y0) for x0, y0, x1, y1 in self.sweeps)

    def ends(self, run: Run) -> tuple[Floats, Floats]:
        """Where the beam goes on and off."""
        return (self.points[1], self.points[0]) if run.backwards else (self.points[0], self.points[1])

    def times(self, starts: Sequence[int], machine: Machine) -> Floats:
        """Seconds for all passes, return moves between passes included; the same for all `starts`."""
        once = sweeps_time(self.sweeps, self.speed, machine.travel_speed, machine.kinematics, self.place[2])
        back = _back(self.points, machine) if self.passes > 1 else 0.0
        return np.full(len(starts), self.passes * once + (self.passes - 1) * back)


Shape = Line | Block


@dataclass(frozen=True)
class Measure:
    """Beam-off and beam-on length of a route in mm; the time in s of its moves, lines and blocks."""

    travel: float
    beam: float
    moving: float
    lines: float
    blocks: float

    @property
    def seconds(self) -> float:
        """The time of the whole route."""
        return self.moving + self.lines + self.blocks


def measure(shapes: Sequence[Shape], runs: Sequence[Run], start: Point, machine: Machine) -> Measure:
    """Measure a route from `start` to the end of its last run.

    Travel is what lies between the runs; the run-up of sweeps and the gaps between them count in
    the time only.
    """
    hops = moves(shapes, runs, start)
    travelling = move_times(hops, machine.travel_speed, machine.kinematics)
    running: dict[type, list[float]] = {Line: [], Block: []}
    for run in runs:
        running[type(shapes[run.shape])].append(float(shapes[run.shape].times((run.start,), machine)[0]))
    return Measure(
        float(np.hypot(hops[:, 0], hops[:, 1]).sum()),
        math.fsum(shapes[run.shape].beam for run in runs),
        float(travelling.sum()),
        math.fsum(running[Line]),
        math.fsum(running[Block]),
    )


def moves(shapes: Sequence[Shape], runs: Sequence[Run], start: Point) -> Floats:
    """Give the moves in mm from `start` to the first run and on from each run to the next, shape (n, 2)."""
    if not runs:
        return np.zeros((0, 2))
    places = np.array([shapes[run.shape].ends(run) for run in runs])
    return np.asarray(places[:, 0] - np.vstack([[start], places[:-1, 1]]))


def _placed(points: Floats, place: Place) -> Floats:
    x, y, turn = place
    c, s = cos_sin(turn)
    return np.asarray(points @ np.array([[c, s], [-s, c]]) + np.array([x, y]))


def _back(points: Floats, machine: Machine) -> float:
    return float(move_times(points[-1] - points[0], machine.travel_speed, machine.kinematics))


@lru_cache(maxsize=4096)
def _length(contour: Contour) -> float:
    return contour.length
