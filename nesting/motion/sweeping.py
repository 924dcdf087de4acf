"""Time of sweeps on a machine."""

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from nesting.job.kinematics import Kinematics
from nesting.motion.moves import Floats, limits_along, travel_time

Sweep = tuple[float, float, float, float]


def sweeps_time(
    sweeps: Sequence[Sweep], speed: float, travel_speed: float, kinematics: Kinematics, turn: float = 0.0
) -> float:
    """Time of sweeps in their order, beam-off gaps on one line crossed at the sweep's speed.

    Each line has a run-up and a run-out; between two lines the beam turns round, and the step to the
    next line is taken meanwhile, so that a rectangle takes what
    `nesting.motion.profile.raster_time` says. `turn` is how the sweeps lie to the axes, in degrees.

    >>> rows = [(0, k / 10, 60, k / 10) if k % 2 == 0 else (60, k / 10, 0, k / 10) for k in range(301)]
    >>> round(sweeps_time(rows, 400, 400, Kinematics(5000)), 2)
    93.31
    """
    if not sweeps:
        return 0.0
    turn = 0.0 if kinematics.uniform else turn
    return _lines_time(tuple(map(tuple, sweeps)), speed, travel_speed, kinematics, turn)


@lru_cache(maxsize=1024)
def _lines_time(
    sweeps: tuple[Sweep, ...], speed: float, travel_speed: float, kinematics: Kinematics, turn: float
) -> float:
    lines = _joined(np.array(sweeps, dtype=float))
    spans = lines[:, 2:] - lines[:, :2]
    lengths = np.hypot(spans[:, 0], spans[:, 1])
    along = spans / np.where(lengths > 0, lengths, 1)[:, None]
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    ahead_of = along @ np.array([[c, s], [-s, c]])
    speeds, rates = limits_along(ahead_of, speed, kinematics)
    ramps = speeds / rates
    total = float(np.sum(lengths / speeds) + ramps[0] + ramps[-1])
    if len(lines) == 1:
        return total
    run_up = along * (speeds * ramps / 2)[:, None]
    hops = (lines[1:, :2] - run_up[1:]) - (lines[:-1, 2:] + run_up[:-1])
    ahead = np.abs(np.sum(hops * along[:-1], axis=1))
    aside = np.abs(hops[:, 0] * along[:-1, 1] - hops[:, 1] * along[:-1, 0])
    onward = travel_time(ahead, *limits_along(ahead_of[:-1], travel_speed, kinematics))
    sideways = travel_time(aside, *limits_along(ahead_of[:-1, ::-1], travel_speed, kinematics))
    return total + float(np.sum(np.maximum(ramps[:-1] + ramps[1:] + onward, sideways)))


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
