"""How a body comes to lie: on the bed, on the edges of a pocket that is narrower, or on a shim."""

import math
from collections.abc import Callable
from itertools import pairwise

from nesting.body.body import Body, Pose, Sphere, Station, Turned

_HALVINGS = 60
_STEP = 0.002


class NotSeatedError(ValueError):
    """A body that does not come to rest in its pocket."""


def rest(body: Body, thickness: float = 0.0, width: float | None = None, shim: float = 0.0) -> Pose:
    """Find how a body lies in its pocket.

    Parameters
    ----------
    body
        The body.
    thickness
        Of the sheet, in mm.
    width
        Width of a pocket with parallel sides, or the diameter of a sphere's, in mm; None for one that
        lets the body down onto the bed.
    shim
        What is laid under the end whose radius is smaller, in mm.

    Raises
    ------
    NotSeatedError
        If the body cannot rest so: the narrow pocket lifts even the small end off the bed, or the shim
        is longer than the body.

    Notes
    -----
    A body of several pieces lies on that edge of its profile's hull which is under its centre of
    gravity, taken as if it were solid; of several such edges, on the one where that lies lowest. In a
    pocket that is too narrow a frustum keeps the bottom of its small rim on the bed and tilts until it
    lies on the pocket's edges; that need not be at its large rim.

    Examples
    --------
    >>> round(rest(Turned.cylinder(75, 120), 6, width=30).axis - 37.5, 6)
    2.869318
    >>> round(rest(Turned.tapered(70, 90, 200), 6, width=40).tilt, 6)
    3.247008
    """
    if width is None:
        return _on_bed(body, shim)
    if shim:
        raise NotSeatedError("a shim and a pocket narrower than the body do not go together")
    if isinstance(body, Sphere) or body.taper == 0:
        radius = body.radius if isinstance(body, Sphere) else max(r for _, r in body.profile)
        return Pose(0.0, max(radius, on_edges(radius, width, thickness)))
    if not body.is_plain:
        raise NotSeatedError("a stepped body needs a pocket that lets it down onto the bed")
    return _tilted(body, thickness, width)


def on_edges(radius: float, width: float, thickness: float) -> float:
    """Height of the axis of a cylinder that lies on the edges of a pocket `width` mm wide."""
    return thickness + math.sqrt(max(radius**2 - width**2 / 4, 0.0)) if width < 2 * radius else -math.inf


def level_shim(body: Body) -> float:
    """Find the shim that levels the crown of a body: 2 (R1 - R2) cos α for a frustum."""
    if isinstance(body, Sphere):
        return 0.0
    (near, first), (far, last) = _support(body)
    edge = math.hypot(far - near, last - first)
    return edge * math.sin(2 * abs(math.atan2(last - first, far - near)))


def _on_bed(body: Body, shim: float) -> Pose:
    if isinstance(body, Sphere):
        return Pose(0.0, body.radius)
    (near, first), (far, last) = _support(body)
    edge = math.hypot(far - near, last - first)
    if shim >= edge:
        raise NotSeatedError(f"a shim of {shim:g} mm is longer than the body")
    raised = math.asin(shim / edge)
    if first <= last:
        return _touching(math.atan2(last - first, far - near) - raised, far, last)
    return _touching(math.atan2(last - first, far - near) + raised, near, first)


def _touching(tilt: float, position: float, radius: float) -> Pose:
    """Lay the lower point of a rim on the bed, the axis tilted by so many radians."""
    return Pose(math.degrees(tilt), radius * math.cos(tilt) - position * math.sin(tilt))


def _support(body: Turned) -> tuple[Station, Station]:
    """Find the edge of the profile's hull that the body lies on."""
    hull: list[Station] = []
    for station in body.profile:
        while len(hull) > 1 and _turn(hull[-2], hull[-1], station) >= 0:
            hull.pop()
        if hull and hull[-1][0] == station[0]:
            hull[-1] = max(hull[-1], station)
        else:
            hull.append(station)
    middle = _middle(body)
    return min(pairwise(hull), key=lambda edge: (_beside(edge, middle), _over(edge, middle)))


def _turn(a: Station, b: Station, c: Station) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _beside(edge: tuple[Station, Station], middle: float) -> float:
    """How far the centre of gravity lies beyond the ends of an edge, along it."""
    (near, first), (far, last) = edge
    length = math.hypot(far - near, last - first)
    along = ((middle - near) * (far - near) - first * (last - first)) / length
    return max(-along, along - length, 0.0)


def _over(edge: tuple[Station, Station], middle: float) -> float:
    """How high the centre of gravity lies above the bed when the body lies on an edge."""
    (near, first), (far, last) = edge
    share = (middle - near) / (far - near)
    return (first + share * (last - first)) * (far - near) / math.hypot(far - near, last - first)


def _middle(body: Turned) -> float:
    """Position of the centre of gravity of the solid body."""
    volume = moment = 0.0
    for (near, a), (far, b) in body.pieces:
        share = (far - near) / 12
        volume += 4 * share * (a * a + a * b + b * b)
        moment += 4 * share * near * (a * a + a * b + b * b)
        moment += share * (far - near) * (a * a + 2 * a * b + 3 * b * b)
    return moment / volume


def _tilted(body: Turned, thickness: float, width: float) -> Pose:
    """Tilt a frustum about the bottom of its small rim until it lies on the pocket's edges."""
    (_, first), (length, last) = body.profile
    small, large = min(first, last), max(first, last)
    flat = math.atan2(large - small, length)
    half = width / 2
    if _half_at(small, small, 0.0, flat, thickness) > half:
        raise NotSeatedError(
            f"a pocket {width:g} mm wide lifts the small end off the bed; allowed: "
            f"{2 * _half_at(small, small, 0.0, flat, thickness):.4g} mm or more"
        )
    tilt = _first_tilt(lambda angle: _widest(small, large, length, angle, thickness) <= half, flat)
    if tilt is None or _half_at(small, small, 0.0, tilt, thickness) > half:
        raise NotSeatedError(f"a pocket {width:g} mm wide lifts the small end off the bed")
    return _touching(tilt, 0.0, small) if first <= last else _touching(-tilt, length, small)


def _first_tilt(fits: Callable[[float], bool], low: float) -> float | None:
    """Find the least tilt in radians that fits; None if there is none up to an eighth of a turn."""
    high = low
    while not fits(high):
        low, high = high, high + _STEP
        if high > math.pi / 4:
            return None
    for _ in range(_HALVINGS if high > low else 0):
        middle = (low + high) / 2
        low, high = (low, middle) if fits(middle) else (middle, high)
    return high


def _half_at(radius: float, small: float, position: float, tilt: float, thickness: float) -> float:
    """Half the width at the sheet's face of the circle at a position, the small rim's bottom on the bed."""
    depth = (thickness - small * math.cos(tilt) - position * math.sin(tilt)) / math.cos(tilt)
    return math.sqrt(max(radius**2 - depth**2, 0.0)) if depth < 0 else radius


def _widest(small: float, large: float, length: float, tilt: float, thickness: float) -> float:
    """Greatest half width at or below the sheet's face: where its square, a parabola, is at its highest."""
    slope, fall = (large - small) / length, math.tan(tilt)
    base = thickness / math.cos(tilt) - small
    ends = [0.0, length]
    if fall**2 > slope**2:
        ends.append(min(max((small * slope + base * fall) / (fall**2 - slope**2), 0.0), length))
    return max(_half_at(small + slope * at, small, at, tilt, thickness) for at in ends)
