"""Straight moves, one at a time or any number at once, under the limits of the axes."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from nesting.job.kinematics import Kinematics, PerAxis

Floats = NDArray[np.float64]


def travel_time(distance: ArrayLike, speed: ArrayLike, acceleration: ArrayLike) -> Floats:
    """Time straight moves from rest to rest, any shape of `distance` in mm.

    >>> travel_time([0, 5, 200], 100, 1000).round(7).tolist()
    [0.0, 0.1414214, 2.1]
    """
    mm, top = np.asarray(distance, dtype=float), np.asarray(speed, dtype=float)
    ramp = top * top / acceleration
    short = 2 * np.sqrt(np.minimum(mm, ramp) / acceleration)
    return np.asarray(short + np.maximum(mm - ramp, 0) / top)


def move_times(hops: ArrayLike, speed: float, kinematics: Kinematics) -> Floats:
    """Time straight moves from rest to rest, given how far each goes in x and in y.

    Parameters
    ----------
    hops
        In mm, shape (..., 2).

    Examples
    --------
    >>> slow_y = Kinematics(1000, axis_speeds=(100, 50))
    >>> move_times([(200, 0), (0, 200), (0, 0)], 100, slow_y).tolist()
    [2.1, 4.05, 0.0]
    """
    ways = np.asarray(hops, dtype=float)
    lengths = np.hypot(ways[..., 0], ways[..., 1])
    if kinematics.uniform:
        return travel_time(lengths, speed, kinematics.acceleration)
    directions = ways / np.where(lengths > 0, lengths, 1)[..., None]
    return travel_time(lengths, *limits_along(directions, speed, kinematics))


def limits_along(directions: Floats, speed: float, kinematics: Kinematics) -> tuple[Floats, Floats]:
    """Give the most speed, up to `speed`, and acceleration in directions of length 1, shape (..., 2)."""
    shares = np.abs(directions)
    return (
        np.minimum(speed, most_within(kinematics.axis_speeds, shares)),
        np.minimum(kinematics.acceleration, most_within(kinematics.axis_accelerations, shares)),
    )


def most_within(limits: PerAxis | None, shares: Floats) -> Floats:
    """Give the longest vectors of which neither axis passes its limit, if there is one.

    Parameters
    ----------
    shares
        How much of a vector each axis has, from 0 to 1, shape (..., 2).

    Examples
    --------
    >>> most_within((300, 400), np.array([[1, 0], [0.6, 0.8], [0, 1]])).tolist()
    [300.0, 500.0, 400.0]
    """
    if limits is None:
        return np.full(shares.shape[:-1], np.inf)
    with np.errstate(divide="ignore"):
        return np.asarray((np.array(limits) / shares).min(axis=-1))
