"""Rows of sweeps: what several fills have in common when they are swept together.

Fills whose sweeps lie on the same lines can be swept as one: the beam runs along a line through all of
them, off in the gaps, and turns round once a line instead of once a line and fill.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from nesting.geometry.contour import cos_sin
from nesting.job.job import Machine
from nesting.motion.moves import limits_along, travel_time
from nesting.motion.sweeping import Sweep
from nesting.routing.shapes import Block, Floats, Place
from nesting.routing.strokes import Ints

ALIGNED_MM = 1e-4
"""Sweeps no further apart across their direction lie on one line."""


def placed_sweeps(sweeps: Sequence[Sweep], place: Place) -> Floats:
    """Put sweeps on the sheet; shape (n, 4)."""
    x, y, turn = place
    c, s = cos_sin(turn)
    ends = np.array(sweeps, dtype=float).reshape(-1, 2) @ np.array([[c, s], [-s, c]]) + (x, y)
    return np.asarray(ends.reshape(-1, 4))


def direction(sweeps: Floats) -> tuple[float, float]:
    """Give the direction of the longest sweep, to the right or straight up."""
    spans = sweeps[:, 2:] - sweeps[:, :2]
    lengths = np.hypot(spans[:, 0], spans[:, 1])
    longest = int(lengths.argmax())
    if lengths[longest] == 0:
        return 1.0, 0.0
    c, s = (spans[longest] / lengths[longest]).tolist()
    c, s = (0.0 if abs(c) < 1e-9 else c), (0.0 if abs(s) < 1e-9 else s)
    return (-c, -s) if (c, s) < (0, 0) else (c, s)


def swept_together(fills: Sequence[Floats]) -> tuple[Sweep, ...]:
    """Sweep fills as one: line by line across their direction, every other line backwards.

    Where fills overlap on a line the beam passes once.

    Parameters
    ----------
    fills
        The sweeps of each fill on the sheet, shape (n, 4), all of one direction.

    Examples
    --------
    >>> left = np.array([[0, 0, 9, 0], [9, 1, 0, 1]])
    >>> [tuple(map(float, sweep)) for sweep in swept_together([left + [20, 0, 20, 0], left])]
    [(0.0, 0.0, 9.0, 0.0), (20.0, 0.0, 29.0, 0.0), (29.0, 1.0, 20.0, 1.0), (9.0, 1.0, 0.0, 1.0)]
    """
    sweeps = np.vstack(fills)
    c, s = direction(sweeps)
    along, across = sweeps[:, [0, 2]] * c + sweeps[:, [1, 3]] * s, sweeps[:, 1] * c - sweeps[:, 0] * s
    order = np.argsort(across, kind="stable")
    across = across[order]
    line: Ints = np.cumsum(np.diff(across, prepend=across[0]) > ALIGNED_MM).astype(np.int64)
    height = np.bincount(line, across) / np.bincount(line)
    low, high = along[order].min(axis=1), along[order].max(axis=1)
    low, high, line = _united(low, high, line)
    back = line % 2 == 1
    order = np.lexsort((np.where(back, -high, low), line))
    low, high, line, back = low[order], high[order], line[order], back[order]
    begin, stop, at = np.where(back, high, low), np.where(back, low, high), height[line]
    ends = np.column_stack([begin * c - at * s, begin * s + at * c, stop * c - at * s, stop * s + at * c])
    return tuple((x0, y0, x1, y1) for x0, y0, x1, y1 in ends.tolist())


def _united(low: Floats, high: Floats, line: Ints) -> tuple[Floats, Floats, Ints]:
    """Join spans of a line that overlap."""
    order = np.lexsort((low, line))
    low, high, line = low[order], high[order], line[order]
    # far enough apart that no span of one line reaches those of the next
    shift = line * (2 * float(np.abs([low, high]).max()) + 1)
    reach = np.maximum.accumulate(high + shift)
    first = np.flatnonzero(np.concatenate([[True], (low + shift)[1:] > reach[:-1]]))
    return low[first], np.maximum.reduceat(high, first), line[first]


@dataclass(frozen=True)
class Rows:
    """The extent of a fill on each line of a grid of lines.

    Attributes
    ----------
    grid
        Direction of the lines, their distance and the place of one of them, in units of 1e-4 (mm).
    first
        Number of the first line.
    low, high
        Where the first sweep of a line begins and the last ends; infinite on a line without one.
    """

    grid: tuple[int, int, int, int]
    first: int
    low: Floats
    high: Floats

    @property
    def last(self) -> int:
        """Number of the last line."""
        return self.first + len(self.low) - 1

    @property
    def left(self) -> float:
        """Where the fill begins along the lines."""
        return float(self.low.min())

    @classmethod
    def of(cls, sweeps: Floats) -> "Rows | None":
        """Measure a fill; None if its sweeps are not lines of one distance."""
        c, s = direction(sweeps)
        along, across = (
            sweeps[:, [0, 2]] * c + sweeps[:, [1, 3]] * s,
            sweeps[:, [1, 3]] * c - sweeps[:, [0, 2]] * s,
        )
        heights = np.unique(across[:, 0].round(5))
        gaps = np.diff(heights)
        gaps = gaps[gaps > ALIGNED_MM]
        if len(gaps) == 0 or np.abs(across[:, 0] - across[:, 1]).max() > ALIGNED_MM:
            return None
        interval = round(float(gaps.min()), 4)
        number = np.round(across[:, 0] / interval - (phase := _phase(across[:, 0], interval)) / interval)
        if np.abs(number * interval + phase - across[:, 0]).max() > 2 * ALIGNED_MM:
            return None
        line = number.astype(np.int64)
        first = int(line.min())
        low, high = (
            np.full(int(line.max()) - first + 1, np.inf),
            np.full(int(line.max()) - first + 1, -np.inf),
        )
        np.minimum.at(low, line - first, along.min(axis=1))
        np.maximum.at(high, line - first, along.max(axis=1))
        grid = (round(c * 1e4), round(s * 1e4), round(interval * 1e4), round(phase * 1e4))
        return cls(grid, first, low, high)


def rows_of(block: Block) -> "Rows | None":
    """Measure a block; blocks alike are measured once."""
    x, y, turn = block.place
    return _rows(block.sweeps, (round(x, 6), round(y, 6), turn))


@lru_cache(maxsize=4096)
def _rows(sweeps: tuple[Sweep, ...], place: Place) -> Rows | None:
    return Rows.of(placed_sweeps(sweeps, place))


def _phase(across: Floats, interval: float) -> float:
    """Place of the line nearest to 0 among all lines of the grid, from 0 to the interval."""
    phase = float(across[0]) % interval
    return 0.0 if interval - phase < ALIGNED_MM / 2 else phase


@dataclass(frozen=True)
class Pace:
    """Most speed and acceleration of sweeps on a grid of lines, and of moves along and across it."""

    sweep: tuple[float, float]
    along: tuple[float, float]
    across: tuple[float, float]
    interval: float

    @classmethod
    def of(cls, grid: tuple[int, int, int, int], speed: float, machine: Machine) -> "Pace":
        """Work out what the machine allows on the lines of a grid."""
        ways = np.array([[grid[0], grid[1]], [grid[1], grid[0]]]) / 1e4
        sweeps, rates = (values.tolist() for values in limits_along(ways, speed, machine.kinematics))
        moves = limits_along(ways, machine.travel_speed, machine.kinematics)[0].tolist()
        return cls((sweeps[0], rates[0]), (moves[0], rates[0]), (moves[1], rates[1]), grid[2] / 1e4)


class Joint:
    """The lines of several fills of one grid, joined one after the other, and the time to sweep them."""

    def __init__(self, first: int, last: int) -> None:
        self.first = first
        self.low, self.high = np.full(last - first + 1, np.inf), np.full(last - first + 1, -np.inf)

    def join(self, rows: Rows) -> None:
        """Add a fill."""
        part = slice(rows.first - self.first, rows.last - self.first + 1)
        np.minimum(self.low[part], rows.low, out=self.low[part])
        np.maximum(self.high[part], rows.high, out=self.high[part])

    def seconds(self, pace: Pace) -> float:
        """Estimate what `nesting.motion.sweeping.sweeps_time` says of the fills swept together."""
        line = np.flatnonzero(self.low < np.inf)
        low, high = self.low[line], self.high[line]
        speed, rate = pace.sweep
        ramp = 2 * speed / rate
        ends = np.where(np.arange(len(line) - 1) % 2 == 0, np.abs(np.diff(high)), np.abs(np.diff(low)))
        ahead = travel_time(ends, *pace.along)
        aside = travel_time(np.diff(line) * pace.interval, *pace.across)
        turning = np.maximum(ramp + ahead, aside)
        return float((high - low).sum() / speed + ramp + turning.sum())
