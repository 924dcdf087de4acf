"""Fills areas with rings along their edges, nowhere twice."""

from collections.abc import Iterator, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from nesting.artwork.fill import FINE_MM, Area
from nesting.geometry.contour import Contour
from nesting.geometry.drawing import FillRule

Floats = NDArray[np.float64]

SMOOTH_MM = 0.001
"""Rings are straightened by no more than this."""

_CORE_SHARES = (0.45, 0.3, 0.15)
_SPECK_SHARE = 0.05


def rings_apart(areas: Sequence[Area], interval: float) -> list[tuple[Contour, ...]]:
    """Fill several areas with closed lines along their edges, `interval` mm apart.

    The first ring lies half an interval inside the edge. What is left in the middle, narrower than an
    interval, gets one more ring. What lies in more than one area is filled with the first of them only.

    Examples
    --------
    >>> square = Contour.polyline([(0, 0), (4, 0), (4, 4), (0, 4)])
    >>> [round(ring.length, 6) for ring in rings_apart([([square], "nonzero")], 1.0)[0]]
    [12.0, 4.0]
    """
    taken: BaseGeometry = shapely.Polygon()
    made = []
    for contours, rule in areas:
        area = inside(contours, rule)
        made.append(tuple(_rings(area.difference(taken), interval)))
        taken = taken.union(area)
    return made


def inside(contours: Sequence[Contour], rule: FillRule) -> BaseGeometry:
    """Make the area inside contours by a fill rule of the SVG standard.

    >>> ring = [Contour.circle(4), Contour.circle(2)]
    >>> round(inside(ring, "nonzero").area / inside(ring, "evenodd").area, 2)
    1.33
    """
    rings = [np.vstack([p, p[:1]]) for p in (contour.flattened(FINE_MM) for contour in contours)]
    lines = shapely.union_all([shapely.LineString(ring) for ring in rings if np.ptp(ring, axis=0).any()])
    faces = np.asarray(shapely.get_parts(shapely.polygonize([lines])))
    if not len(faces):
        return shapely.Polygon()
    points = shapely.get_coordinates(shapely.point_on_surface(faces))
    windings = sum((_windings(ring, points) for ring in rings), np.zeros(len(points), dtype=np.int64))
    return shapely.union_all(faces[windings != 0 if rule == "nonzero" else windings % 2 == 1])


def _windings(ring: Floats, points: Floats) -> NDArray[np.int64]:
    """How often a closed line runs round each of some points: crossings of a ray to the right."""
    low, high = ring.min(axis=0), ring.max(axis=0)
    near = np.flatnonzero(((points > low) & (points < high)).all(axis=1))
    found = np.zeros(len(points), dtype=np.int64)
    a, b = ring[:-1], ring[1:]
    for k in near:
        x, y = points[k]
        cut = (a[:, 1] <= y) != (b[:, 1] <= y)
        p, q = a[cut], b[cut]
        right = p[:, 0] + (y - p[:, 1]) / (q[:, 1] - p[:, 1]) * (q[:, 0] - p[:, 0]) > x
        found[k] = np.where(q[:, 1] > p[:, 1], 1, -1)[right].sum()
    return found


def _rings(area: BaseGeometry, interval: float) -> Iterator[Contour]:
    left = area
    while not left.is_empty:
        ring = _shrunk(left, interval / 2)
        yield from _edges(ring)
        band = _shrunk(left, interval)
        # where no ring fits any more, but something is left: the core
        reach = ring.buffer(interval / 2 * 1.01, join_style="mitre")
        for core in shapely.get_parts(left.difference(reach)):
            if core.area > _SPECK_SHARE * interval**2:
                yield from _core(core, interval)
        left = band


def _core(core: BaseGeometry, interval: float) -> Iterator[Contour]:
    """Ring a piece narrower than the interval, as deep inside as it goes."""
    shrunk = (_shrunk(core, share * interval) for share in _CORE_SHARES)
    yield from _edges(next((ring for ring in shrunk if not ring.is_empty), shapely.Polygon()))


def _shrunk(area: BaseGeometry, by: float) -> BaseGeometry:
    return area.buffer(-by, join_style="mitre", mitre_limit=2)


def _edges(area: BaseGeometry) -> Iterator[Contour]:
    for piece in shapely.get_parts(area):
        for ring in (piece.exterior, *piece.interiors):
            points = shapely.get_coordinates(ring.simplify(SMOOTH_MM))[:-1]
            if len(points) > 2:
                yield Contour.polyline(points.tolist())
