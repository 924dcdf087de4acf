"""What of a body lies below the sheet's face, seen from above: its seat; all of it is its silhouette.

A pocket has upright walls, so it must let in the shadow of everything below the face. A frustum is the
hull of its two rims; what is below the face of each line from rim to rim ends at a rim or at the face,
and the shadow is the hull of those ends.
"""

import math
from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from nesting.body.body import Body, Pose, Sphere, Station, left_of
from nesting.geometry.around import polygon_around
from nesting.geometry.contour import Points
from nesting.geometry.region import Region

SEAT_MM = 0.01
"""A seat is nowhere further outside the exact curve than this, and never inside."""

_LINES = 2880
"""Lines from rim to rim: between two of them a curve of 0.5 m radius stays within 0.3 µm of its chord."""

_PASSING = 201
_JOIN_MM = 1e-7
_NOISE_MM = 1e-9


def silhouette(body: Body, pose: Pose) -> Region:
    """Give a body's outline from above, x along its axis from 0 at the left end, the axis at y = 0.

    A sphere lies round (0, 0).
    """
    outline = _shadow(body, pose, math.inf)
    assert outline is not None, "a body is below infinity"
    return outline


def seat(body: Body, pose: Pose, thickness: float) -> Region | None:
    """Give the outline that a body needs in a sheet, in the coordinates of its silhouette.

    Parameters
    ----------
    body, pose
        The body and how it lies.
    thickness
        Of the sheet, in mm.

    Returns
    -------
    The seat; None if the body lies above the face of the sheet. A body that dips below the face in
    several places gets one seat, their common hull.

    Examples
    --------
    >>> from nesting.body.body import Turned
    >>> from nesting.body.rest import rest
    >>> cup = Turned.cylinder(75, 120)
    >>> x0, y0, x1, y1 = seat(cup, rest(cup), 6).bounds
    >>> x1 - x0, round(y1 - y0, 6)
    (120.0, 40.69398)
    """
    return _shadow(body, pose, thickness)


def joined(outlines: Sequence[Polygon]) -> Region:
    """Join outlines to one; outlines that lie apart are joined by their common hull."""
    whole = shapely.union_all(outlines, grid_size=_JOIN_MM) if len(outlines) > 1 else outlines[0]
    one = whole if isinstance(whole, Polygon) else whole.convex_hull
    ring = shapely.get_coordinates(shapely.remove_repeated_points(shapely.get_exterior_ring(one), _JOIN_MM))
    return Region.polygon(ring[:-1])


def _shadow(body: Body, pose: Pose, face: float) -> Region | None:
    if isinstance(body, Sphere):
        return _disc(body, pose, face)
    left, tilt = left_of(body, pose), math.radians(pose.tilt)
    found = [_piece(a, b, pose, left, tilt, face) for a, b in body.pieces]
    polygons = [Polygon(corners) for corners in found if corners is not None]
    if not polygons:
        return None
    return joined(polygons)


def _disc(body: Sphere, pose: Pose, face: float) -> Region | None:
    half = _half_chord(body.radius, pose.axis - face)
    return Region.circle(2 * half) if half else None


def _half_chord(radius: float, depth: float) -> float | None:
    """Half of what a circle is wide at or below a face that lies `depth` mm below its middle."""
    if depth >= radius:
        return None
    return math.sqrt(radius**2 - depth**2) if depth > 0 else radius


def _piece(a: Station, b: Station, pose: Pose, left: float, tilt: float, face: float) -> Points | None:
    """Corners of the shadow of one frustum; None if it is all above the face."""
    if tilt == 0 and a[1] == b[1]:
        half = _half_chord(a[1], pose.axis - face)
        (x0, x1), y = (left + a[0], left + b[0]), half or 0.0
        return np.array([(x0, -y), (x1, -y), (x1, y), (x0, y)]) if half else None
    ends = _ends(a, b, pose, left, tilt, face)
    if ends is None:
        return None
    hull = shapely.MultiPoint(ends).convex_hull
    if not isinstance(hull, Polygon):
        return None
    ring = shapely.get_coordinates(shapely.orient_polygons(hull))[:-1]
    return polygon_around(ring[_apart(ring)], SEAT_MM)


def _apart(ring: Points) -> NDArray[np.bool_]:
    """Pick the points that are some way from the one before."""
    return np.asarray(np.hypot(*(ring - np.roll(ring, 1, axis=0)).T) > 1e-9)


def _ends(a: Station, b: Station, pose: Pose, left: float, tilt: float, face: float) -> Points | None:
    """Seen from above, the ends of what is below the face of each line from rim to rim."""
    turns = _turns(a, b, pose, tilt, face)
    first, second = (_rim(station, turns, pose, left, tilt) for station in (a, b))
    low, high = (np.where(first[2] <= second[2], p, q) for p, q in ((first, second), (second, first)))
    below = low[2] <= face + _NOISE_MM
    if not below.any():
        return None
    low, high = low[:, below], high[:, below]
    rise = np.maximum(high[2] - low[2], 1e-300)
    share = np.clip((face - low[2]) / rise, 0.0, 1.0) if math.isfinite(face) else 1.0
    return np.concatenate([low[:2].T, (low + (high - low) * share)[:2].T])


def _turns(a: Station, b: Station, pose: Pose, tilt: float, face: float) -> NDArray[np.float64]:
    """Angles round the axis, from the upper side: evenly spread, and where the rims pass the face."""
    even = 2 * math.pi * np.arange(_LINES) / _LINES
    if not math.isfinite(face):
        return even
    at = [
        math.acos(min(max((face - pose.height_at(s)) / (radius * math.cos(tilt)), -1.0), 1.0))
        for s, radius in (a, b)
    ]
    passing = np.linspace(at[0], at[1], _PASSING)
    return np.concatenate([even, passing, -passing])


def _rim(station: Station, turns: NDArray[np.float64], pose: Pose, left: float, tilt: float) -> Points:
    """Points of a rim, shape (3, n)."""
    at, radius = station
    up, across = radius * np.cos(turns), radius * np.sin(turns)
    x = left + at * math.cos(tilt) - up * math.sin(tilt)
    return np.array([x, across, pose.height_at(at) + up * math.cos(tilt)])
