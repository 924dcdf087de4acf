"""Time of contours on a machine.

The beam starts and ends every contour at rest. Between, it keeps the fastest speed that the stretches
allow: lines the set speed and that of the axes in their direction, arcs also the speed at which they
ask for the machine's acceleration, corners the speed of the machine's law for corners. An arc has the
limits of the worst of its directions. The acceleration along the path and the one across it are not
added up. All times are estimates.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from nesting.geometry.contour import Contour, Vertex
from nesting.job.kinematics import Kinematics
from nesting.motion.moves import Floats, most_within


def contour_time(contour: Contour, speed: float, kinematics: Kinematics, start: int = 0) -> float:
    """Time to follow a contour from rest to rest; either way takes the same.

    Parameters
    ----------
    start
        The vertex where a closed contour begins and ends.

    Examples
    --------
    >>> square, steady = Contour.polyline([(0, 0), (40, 0), (40, 40), (0, 40)]), Kinematics(1000)
    >>> round(contour_time(square, 20, steady), 7), round(contour_time(square, 100, steady), 7)
    (8.0321856, 1.9377003)
    """
    return float(start_times(contour, (start,), speed, kinematics)[0])


def start_times(
    contour: Contour, starts: Sequence[int], speed: float, kinematics: Kinematics, turn: float = 0.0
) -> Floats:
    """Time a contour followed once from each of `starts`; equal shapes are timed once.

    `turn` is how the contour lies to the axes, in degrees.
    """
    return _contour_times(contour, tuple(starts), speed, kinematics, 0.0 if kinematics.uniform else turn)


@lru_cache(maxsize=4096)
def _contour_times(
    contour: Contour, starts: tuple[int, ...], speed: float, kinematics: Kinematics, turn: float
) -> Floats:
    x, y, _ = contour.vertices[0]
    shape = tuple((round(vx - x, 6), round(vy - y, 6), round(b, 9)) for vx, vy, b in contour.vertices)
    starts = starts if contour.closed else (0,) * len(starts)
    return _shape_times(shape, contour.closed, starts, speed, kinematics, turn)


@lru_cache(maxsize=4096)
def _shape_times(
    shape: tuple[Vertex, ...], closed: bool, starts: tuple[int, ...], speed: float,
    kinematics: Kinematics, turn: float,
) -> Floats:  # fmt: skip
    stretches = Stretches.of(shape, closed, np.radians(turn))
    if not len(stretches.lengths):
        return np.zeros(len(starts))
    chain = _Chain.of(stretches, speed, kinematics)
    times = np.array([chain.seconds(stretches.number[start]) for start in starts])
    times.setflags(write=False)
    return times


@dataclass(frozen=True)
class Stretches:
    """The lines and arcs of a contour as arrays of one length, those of no length left out.

    Attributes
    ----------
    lengths
        Along the stretch, mm.
    radii
        Infinite for a line.
    first, last
        Headings where the stretch begins and ends, radians; the last is the first plus what it turns by.
    number
        For each vertex of the contour the stretch that begins there or next after it.
    """

    lengths: Floats
    radii: Floats
    first: Floats
    last: Floats
    number: list[int]

    @classmethod
    def of(cls, vertices: Sequence[Vertex], closed: bool = True, turn: float = 0.0) -> "Stretches":
        """Measure the stretches between vertices, the whole turned by `turn` radians."""
        table = np.array(vertices, dtype=float)
        chords, bulges = np.roll(table, -1, axis=0)[:, :2] - table[:, :2], table[:, 2]
        spans = np.hypot(chords[:, 0], chords[:, 1])
        real = spans > 0
        real[-1] &= closed
        number = np.cumsum(real) - real
        chords, spans, bulges = chords[real], spans[real], bulges[real]
        bent, steep = bulges != 0, np.where(bulges != 0, np.abs(bulges), 1)
        lengths = np.where(bent, spans * (1 + steep**2) / steep * np.arctan(steep), spans)
        radii = np.where(bent, spans * (1 + steep**2) / (4 * steep), np.inf)
        middle, half = np.arctan2(chords[:, 1], chords[:, 0]) + turn, 2 * np.arctan(bulges)
        return cls(lengths, radii, middle - half, middle + half, (number % max(len(spans), 1)).tolist())

    @property
    def shares(self) -> Floats:
        """The most that a direction of each stretch has of x and of y, shape (n, 2)."""
        return np.column_stack([self._most_cosine(0.0), self._most_cosine(np.pi / 2)])

    def _most_cosine(self, axis: float) -> Floats:
        """Give the most of an axis in any heading of each stretch: 1 where one runs along it."""
        low, high = np.minimum(self.first, self.last) - axis, np.maximum(self.first, self.last) - axis
        passes = np.floor(high / np.pi) > np.floor(low / np.pi)
        return np.asarray(np.where(passes, 1.0, np.maximum(np.abs(np.cos(low)), np.abs(np.cos(high)))))

    @property
    def changes(self) -> Floats:
        """Change of the direction where each stretch begins, as a vector of length 0 to 2, shape (n, 2)."""
        before = np.roll(self.last, 1)
        half, middle = (self.first - before) / 2, (self.first + before) / 2
        return np.asarray((2 * np.sin(half))[:, None] * np.column_stack([-np.sin(middle), np.cos(middle)]))


def corner_speeds(changes: Floats, kinematics: Kinematics) -> Floats:
    """Speeds at which corners are taken, by the machine's law.

    It does for arrays what `nesting.motion.profile.junction_speed` and `jump_speed` do; the
    acceleration is the one that the axes have in the direction of the change.

    Parameters
    ----------
    changes
        Of the direction, shape (n, 2).
    """
    sizes = np.hypot(changes[:, 0], changes[:, 1])
    sine = (sizes / 2).clip(0, 1)
    with np.errstate(divide="ignore"):
        if kinematics.velocity_jump is not None:
            return np.asarray(kinematics.velocity_jump / sizes)
        directions = np.abs(changes) / np.where(sizes > 0, sizes, 1)[:, None]
        limits = most_within(kinematics.axis_accelerations, directions)
        # c / (1 - c) for the cosine of half the turn, without loss where the turn is small
        cosine = np.sqrt(1 - sine**2)
        rounded = kinematics.junction_deviation * cosine * (1 + cosine) / sine**2
        return np.asarray(np.sqrt(np.minimum(kinematics.acceleration, limits) * rounded))


@dataclass(frozen=True)
class _Chain:
    """Stretches with what limits the speed on each and where it begins, and the acceleration along it."""

    lengths: Floats
    speeds: Floats
    corners: Floats
    accelerations: Floats

    @classmethod
    def of(cls, stretches: Stretches, speed: float, kinematics: Kinematics) -> "_Chain":
        shares = stretches.shares
        along = np.minimum(kinematics.acceleration, most_within(kinematics.axis_accelerations, shares))
        # across an arc the axes change places
        across = np.minimum(
            kinematics.acceleration, most_within(kinematics.axis_accelerations, shares[:, ::-1])
        )
        speeds = np.minimum(speed, most_within(kinematics.axis_speeds, shares))
        speeds = np.minimum(speeds, np.sqrt(across * stretches.radii))
        return cls(stretches.lengths, speeds, corner_speeds(stretches.changes, kinematics), along)

    def seconds(self, start: int) -> float:
        """Look ahead along the chain from a stretch: squared speeds grow by no more than 2 a L a stretch."""
        lengths, speeds, corners, rates = (
            np.roll(values, -start)
            for values in (self.lengths, self.speeds, self.corners, self.accelerations)
        )
        inner = np.minimum(corners[1:], np.minimum(speeds[:-1], speeds[1:]))
        squares = np.concatenate([[0.0], inner**2, [0.0]])
        gained = np.concatenate([[0.0], np.cumsum(2 * rates * lengths)])
        squares = np.minimum.accumulate(squares - gained) + gained
        squares = np.minimum.accumulate((squares + gained)[::-1])[::-1] - gained
        ends = np.sqrt(squares.clip(0))
        return float(np.sum(_stretch_times(lengths, speeds, rates, ends[:-1], ends[1:])))


def _stretch_times(lengths: Floats, speeds: Floats, rates: Floats, starts: Floats, ends: Floats) -> Floats:
    """Do what `nesting.motion.profile.move_time` does for arrays."""
    halves = (starts**2 + ends**2) / 2
    peaks = np.minimum(np.sqrt(rates * lengths + halves), speeds)
    cruise = (lengths - (peaks**2 - halves) / rates).clip(0)
    return np.asarray((2 * peaks - starts - ends) / rates + cruise / speeds)
