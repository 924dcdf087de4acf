"""Time of contours, sweeps and travel moves on a machine.

The beam starts and ends every contour at rest. Between, it keeps the fastest speed that the stretches
allow: lines the set speed, arcs also the speed at which they ask for the machine's acceleration,
corners the junction speed. The acceleration along the path and the one across it are not added up.
All times are estimates.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from nesting.geometry.contour import Contour, Vertex
from nesting.motion.profile import JUNCTION_DEVIATION_MM

Floats = NDArray[np.float64]
Sweep = tuple[float, float, float, float]


def travel_time(distance: ArrayLike, speed: float, acceleration: float) -> Floats:
    """Time straight moves from rest to rest, any shape of `distance` in mm.

    >>> travel_time([0, 5, 200], 100, 1000).round(7).tolist()
    [0.0, 0.1414214, 2.1]
    """
    mm = np.asarray(distance, dtype=float)
    ramp = speed * speed / acceleration
    short = 2 * np.sqrt(np.minimum(mm, ramp) / acceleration)
    return np.asarray(short + np.maximum(mm - ramp, 0) / speed)


def contour_time(contour: Contour, speed: float, acceleration: float, start: int = 0) -> float:
    """Time to follow a contour from rest to rest; either way takes the same.

    Parameters
    ----------
    start
        The vertex where a closed contour begins and ends.

    Examples
    --------
    >>> square = Contour.polyline([(0, 0), (40, 0), (40, 40), (0, 40)])
    >>> round(contour_time(square, 20, 1000), 7), round(contour_time(square, 100, 1000), 7)
    (8.0321856, 1.9377003)
    """
    return float(start_times(contour, (start,), speed, acceleration)[0])


def start_times(contour: Contour, starts: Sequence[int], speed: float, acceleration: float) -> Floats:
    """Time a contour followed once from each of `starts`; equal shapes are timed once."""
    return _contour_times(contour, tuple(starts), speed, acceleration)


@lru_cache(maxsize=4096)
def _contour_times(contour: Contour, starts: tuple[int, ...], speed: float, acceleration: float) -> Floats:
    x, y, _ = contour.vertices[0]
    shape = tuple((round(vx - x, 6), round(vy - y, 6), round(b, 9)) for vx, vy, b in contour.vertices)
    starts = starts if contour.closed else (0,) * len(starts)
    return _shape_times(shape, contour.closed, starts, speed, acceleration)


@lru_cache(maxsize=4096)
def _shape_times(
    shape: tuple[Vertex, ...], closed: bool, starts: tuple[int, ...], speed: float, acceleration: float
) -> Floats:
    stretches = Stretches.of(shape, closed)
    limits = np.minimum(speed, np.sqrt(acceleration * stretches.radii))
    corners = junction_speeds(stretches.turns, acceleration)
    times = np.array([_chain_time(stretches, limits, corners, start, acceleration) for start in starts])
    times.setflags(write=False)
    return times


@dataclass(frozen=True)
class Stretches:
    """The lines and arcs of a contour as arrays of one length.

    Attributes
    ----------
    lengths
        Along the stretch, mm.
    radii
        Infinite for a line.
    turns
        Change of direction where the stretch begins, radians from 0; the first of an open contour
        says nothing.
    """

    lengths: Floats
    radii: Floats
    turns: Floats

    @classmethod
    def of(cls, vertices: Sequence[Vertex], closed: bool = True) -> "Stretches":
        """Measure the stretches between vertices."""
        table = np.array(vertices, dtype=float)
        ends = np.roll(table, -1, axis=0)
        if not closed:
            table, ends = table[:-1], ends[:-1]
        chords, bulges = ends[:, :2] - table[:, :2], np.abs(table[:, 2])
        spans, safe = np.hypot(chords[:, 0], chords[:, 1]), np.where(bulges > 0, bulges, 1)
        lengths = np.where(bulges > 0, spans * (1 + safe**2) / safe * np.arctan(safe), spans)
        radii = np.where(bulges > 0, spans * (1 + safe**2) / (4 * safe), np.inf)
        return cls(lengths, radii, _turns(chords, spans, 2 * np.arctan(table[:, 2])))


def junction_speeds(turns: Floats, acceleration: float, deviation: float = JUNCTION_DEVIATION_MM) -> Floats:
    """Do what `nesting.motion.profile.junction_speed` does for an array of turns in radians."""
    c = np.cos(np.minimum(turns, np.pi) / 2).clip(0, 1)
    with np.errstate(divide="ignore"):
        return np.asarray(np.sqrt(acceleration * deviation * c / (1 - c)))


def sweeps_time(sweeps: Sequence[Sweep], speed: float, travel_speed: float, acceleration: float) -> float:
    """Time of sweeps in their order, beam-off gaps on one line crossed at the sweep's speed.

    Each line has a run-up and a run-out; between two lines the beam turns round, and the step to the
    next line is taken meanwhile, so that a rectangle takes what
    `nesting.motion.profile.raster_time` says.

    >>> rows = [(0, k / 10, 60, k / 10) if k % 2 == 0 else (60, k / 10, 0, k / 10) for k in range(301)]
    >>> round(sweeps_time(rows, 400, 400, 5000), 2)
    93.31
    """
    if not sweeps:
        return 0.0
    return _lines_time(tuple(map(tuple, sweeps)), speed, travel_speed, acceleration)


@lru_cache(maxsize=1024)
def _lines_time(sweeps: tuple[Sweep, ...], speed: float, travel_speed: float, acceleration: float) -> float:
    lines = _joined(np.array(sweeps, dtype=float))
    spans = lines[:, 2:] - lines[:, :2]
    lengths = np.hypot(spans[:, 0], spans[:, 1])
    total = float(np.sum(lengths / speed) + 2 * speed / acceleration)
    if len(lines) == 1:
        return total
    along = spans / np.where(lengths > 0, lengths, 1)[:, None]
    run_up = along * speed * speed / (2 * acceleration)
    hops = (lines[1:, :2] - run_up[1:]) - (lines[:-1, 2:] + run_up[:-1])
    ahead = np.abs(np.sum(hops * along[:-1], axis=1))
    aside = np.abs(hops[:, 0] * along[:-1, 1] - hops[:, 1] * along[:-1, 0])
    turning = 2 * speed / acceleration + travel_time(ahead, travel_speed, acceleration)
    return total + float(np.sum(np.maximum(turning, travel_time(aside, travel_speed, acceleration))))


def _joined(sweeps: Floats) -> Floats:
    """Join sweeps that follow one another on one line in one direction."""
    spans = sweeps[:, 2:] - sweeps[:, :2]
    gaps = sweeps[1:, :2] - sweeps[:-1, 2:]
    reach = np.hypot(gaps[:, 0], gaps[:, 1]) * np.hypot(spans[1:, 0], spans[1:, 1])
    lengths = np.hypot(spans[:, 0], spans[:, 1])
    onward = np.sum(gaps * spans[1:], axis=1) >= reach * (1 - 1e-9)
    parallel = np.sum(spans[:-1] * spans[1:], axis=1) >= lengths[:-1] * lengths[1:] * (1 - 1e-9)
    same = onward & parallel
    first = np.concatenate([[True], ~same])
    last = np.concatenate([~same, [True]])
    return np.hstack([sweeps[first, :2], sweeps[last, 2:]])


def _turns(chords: Floats, spans: Floats, half_sweeps: Floats) -> Floats:
    """Change of direction between each stretch and the one before it; stretches of no length count 0."""
    real = np.flatnonzero(spans > 0)
    turns = np.zeros(len(spans))
    headings = np.arctan2(chords[real, 1], chords[real, 0])
    change = (headings - half_sweeps[real]) - np.roll(headings + half_sweeps[real], 1)
    turns[real] = np.abs((change + np.pi) % (2 * np.pi) - np.pi)
    return turns


def _chain_time(
    stretches: Stretches, limits: Floats, corners: Floats, start: int, acceleration: float
) -> float:
    """Look ahead along the chain from `start`: squared speeds grow by no more than 2 a L a stretch."""
    lengths, limits = np.roll(stretches.lengths, -start), np.roll(limits, -start)
    inner = np.minimum(np.roll(corners, -start)[1:], np.minimum(limits[:-1], limits[1:]))
    squares = np.concatenate([[0.0], inner**2, [0.0]])
    gained = np.concatenate([[0.0], np.cumsum(2 * acceleration * lengths)])
    squares = np.minimum.accumulate(squares - gained) + gained
    squares = np.minimum.accumulate((squares + gained)[::-1])[::-1] - gained
    speeds = np.sqrt(squares.clip(0))
    return float(np.sum(_stretch_times(lengths, limits, speeds[:-1], speeds[1:], acceleration)))


def _stretch_times(
    lengths: Floats, limits: Floats, starts: Floats, ends: Floats, acceleration: float
) -> Floats:
    """Do what `nesting.motion.profile.move_time` does for arrays."""
    halves = (starts**2 + ends**2) / 2
    peaks = np.minimum(np.sqrt(acceleration * lengths + halves), limits)
    cruise = (lengths - (peaks**2 - halves) / acceleration).clip(0)
    # an arc of no length allows no speed, and takes no time
    cruising = np.divide(cruise, limits, out=np.zeros_like(cruise), where=cruise > 0)
    return np.asarray((2 * peaks - starts - ends) / acceleration + cruising)
