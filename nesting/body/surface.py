"""The upper surface of a lying body."""

import math

import numpy as np
from numpy.typing import NDArray

from nesting.body.body import Body, Pose, Sphere, Station, left_of

Floats = NDArray[np.float64]


def top(body: Body, pose: Pose, x: Floats, y: Floats) -> Floats:
    """Measure how high the upper surface of a body lies above the bed.

    Parameters
    ----------
    body, pose
        The body and how it lies.
    x, y
        Places in the coordinates of its silhouette, in mm, of one shape.

    Returns
    -------
    Heights in mm, NaN beside the body.

    Examples
    --------
    >>> from nesting.body.rest import rest
    >>> from nesting.body.body import Turned
    >>> cup = Turned.cylinder(75, 120)
    >>> top(cup, rest(cup), np.array([60.0, 60.0, 60.0]), np.array([0.0, 10.0, 40.0])).round(6)
    array([75.      , 73.642081,       nan])
    """
    return pose.axis + np.asarray(np.fmax.reduce(_crossings(body, pose, x, y, 1)))


def bottom(body: Body, pose: Pose, x: Floats, y: Floats) -> Floats:
    """Measure how high the lower surface of a body lies above the bed; see `top`."""
    return pose.axis + np.asarray(np.fmin.reduce(_crossings(body, pose, x, y, -1)))


def _crossings(body: Body, pose: Pose, x: Floats, y: Floats, sign: int) -> list[Floats]:
    """Heights over the axis's start where upright lines leave (sign 1) or enter (-1) parts of the body."""
    x, y = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    if isinstance(body, Sphere):
        square = body.radius**2 - x**2 - y**2
        return [np.where(square >= 0, sign * np.sqrt(np.maximum(square, 0)), np.nan)]
    tilt, along = math.radians(pose.tilt), x - left_of(body, pose)
    heights = [_side(a, b, tilt, along, y, sign) for a, b in body.pieces]
    return heights + [_end(station, tilt, along, y) for station in body.profile]


def _side(a: Station, b: Station, tilt: float, along: Floats, across: Floats, sign: int) -> Floats:
    """Height over the axis's start of the side of one frustum."""
    z, position = on_side(a, b, tilt, along, across, sign)
    return np.where((position >= a[0] - 1e-9) & (position <= b[0] + 1e-9), z, np.nan)


def on_side(
    a: Station, b: Station, tilt: float, along: Floats, across: Floats, sign: int = 1
) -> tuple[Floats, Floats]:
    """Find where upright lines meet the side of a frustum, prolonged beyond its ends.

    With x and z counted from the start of the axis, s = x cos θ + z sin θ and q = z cos θ - x sin θ; on
    the side q² + y² = r(s)².

    Returns
    -------
    Heights z over the start of the axis and positions s along it; NaN where a line misses it.
    """
    slope = (b[1] - a[1]) / (b[0] - a[0])
    sine, cosine = math.sin(tilt), math.cos(tilt)
    radius = a[1] + slope * (along * cosine - a[0])
    # (z cos - x sin)² + y² = (radius + slope z sin)², a quadratic in z
    square = cosine**2 - (slope * sine) ** 2
    half = -along * sine * cosine - radius * slope * sine
    rest = (along * sine) ** 2 + across**2 - radius**2
    inside = half**2 - square * rest
    z = (-half + sign * np.sqrt(np.where(inside >= 0, inside, np.nan))) / square
    return z, along * cosine + z * sine


def _end(station: Station, tilt: float, along: Floats, across: Floats) -> Floats:
    """Height over the axis's start of a disc square to the axis."""
    sine, cosine = math.sin(tilt), math.cos(tilt)
    if abs(sine) < 1e-12:
        return np.full(along.shape, np.nan)
    z = (station[0] - along * cosine) / sine
    q = z * cosine - along * sine
    return np.where(q**2 + across**2 <= station[1] ** 2, z, np.nan)
