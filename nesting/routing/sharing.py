"""Which fills of a load are swept together: those that take less time so than one by one."""

from collections import defaultdict
from collections.abc import Iterable, Sequence

import numpy as np

from nesting.job.job import Machine
from nesting.motion.moves import move_times
from nesting.routing.rows import Joint, Pace, Rows

FURTHEST = 24
"""So many fills of a row at the most are swept together."""

HOP_MM = 20.0
"""A fill swept by itself costs a move of about this length more."""

EFFORT_PER_TRY = 5e-5
"""Measured: seconds to time one set of fills on a desktop computer."""

Together = tuple[int, ...]
"""Indices of fills that are swept together, in the order of their steps."""


def share_sweeps(
    fills: Sequence[Rows | None], speed: float, machine: Machine, passes: int = 1
) -> tuple[list[Together], float, float]:
    """Divide fills of one setting into sets, each swept together.

    Fills on one grid of lines whose middles lie beside the tallest of them make a row. Along a row
    the best division into neighbours is found by dynamic programming.

    Returns
    -------
    The sets, each fill in one; the seconds that sweeping them takes; the effort it took to find out.
    """
    sets: list[Together] = [(k,) for k, rows in enumerate(fills) if rows is None]
    seconds = effort = 0.0
    for row in _beside(fills):
        cuts, time = _divided([rows for k in row if (rows := fills[k])], speed, machine, passes)
        sets += [tuple(row[a:b]) for a, b in cuts]
        seconds += time
        effort += EFFORT_PER_TRY * len(row) * min(len(row), FURTHEST)
    return sorted(sets), seconds, effort


def _beside(fills: Sequence[Rows | None]) -> Iterable[list[int]]:
    """Give rows of fills, each in order along its lines."""
    grids: defaultdict[tuple[int, int, int, int], list[int]] = defaultdict(list)
    for k, rows in enumerate(fills):
        if rows is not None:
            grids[rows.grid].append(k)
    for members in grids.values():
        spans = {k: (rows.first, rows.last, rows.left) for k in members if (rows := fills[k])}
        waiting = sorted(members, key=lambda k: (spans[k][0] - spans[k][1], spans[k]))
        while waiting:
            first, last, _ = spans[waiting[0]]
            row = [k for k in waiting if 2 * first <= spans[k][0] + spans[k][1] <= 2 * last]
            yield sorted(row, key=lambda k: (spans[k][2], k))
            waiting = [k for k in waiting if k not in set(row)]


def _divided(
    row: Sequence[Rows], speed: float, machine: Machine, passes: int
) -> tuple[list[tuple[int, int]], float]:
    """Cut a row into stretches so that sweeping all of them takes the least time."""
    first, last = min(rows.first for rows in row), max(rows.last for rows in row)
    pace = Pace.of(row[0].grid, speed, machine)
    hop = float(move_times((HOP_MM, 0.0), machine.travel_speed, machine.kinematics))
    best = np.full(len(row) + 1, np.inf)
    best[0] = 0.0
    came_from = [0] * (len(row) + 1)
    for begin in range(len(row)):
        joint = Joint(first, last)
        for stop in range(begin + 1, min(begin + FURTHEST, len(row)) + 1):
            joint.join(row[stop - 1])
            time = best[begin] + passes * (joint.seconds(pace) + hop)
            if time < best[stop] - 1e-9:
                best[stop], came_from[stop] = time, begin
    cuts, stop = [], len(row)
    while stop:
        cuts.append((came_from[stop], stop))
        stop = came_from[stop]
    return cuts[::-1], float(best[-1])
