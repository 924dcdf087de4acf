"""What lies inside contours by a fill rule, as polygons that no longer cross or overlap."""

from collections.abc import Iterable, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from nesting.geometry.contour import Contour
from nesting.geometry.drawing import FillRule

MAX_EDGES = 20_000
"""So many edges may outlines have that cross or lie inside each other."""

MAX_CROSSINGS = 100_000
"""Edges that meet each other more often are refused: every meeting becomes a corner."""

MAX_TESTS = 20_000_000
"""So many pairs of a face and an edge may be looked at to tell which faces are inside."""

CHUNK = 512

Floats = NDArray[np.float64]


class TangleError(ValueError):
    """Lines are too many, or cross too often, to be worked on."""


def inside(contours: Sequence[Contour], rule: FillRule, tolerance: float) -> BaseGeometry:
    """Give the area inside contours; an open one is closed by a straight line (SVG 2, section 13.4.2).

    Parameters
    ----------
    tolerance
        Largest distance in mm between an arc and the polygon's edge.

    Raises
    ------
    TangleError
        If what is inside takes too long to find.

    Examples
    --------
    >>> twice = [Contour.polyline([(0, 0), (2, 0), (2, 2), (0, 2)])] * 2
    >>> inside(twice, "nonzero", 0.01).area, inside(twice, "evenodd", 0.01).area
    (4.0, 0.0)
    """
    rings = [ring for c in contours if len(ring := c.flattened(tolerance)) > 2]
    if not rings:
        return Polygon()
    if len(rings) == 1 and (whole := Polygon(rings[0])).is_valid:
        return whole
    starts = np.vstack(rings)
    ends = np.vstack([np.roll(ring, -1, axis=0) for ring in rings])
    if len(starts) > MAX_EDGES:
        raise TangleError(f"outlines that may cross have more than {MAX_EDGES} corners; simplify them")
    refuse_tangle(np.array([LineString(edge) for edge in np.stack([starts, ends], axis=1)]))
    lines = shapely.union_all([LineString(np.vstack([ring, ring[:1]])) for ring in rings])
    faces = shapely.get_parts(shapely.polygonize(shapely.get_parts(lines)))
    if len(faces) * len(starts) > MAX_TESTS:
        raise TangleError("the outlines have too many parts to tell what is inside; simplify them")
    points = shapely.get_coordinates(shapely.point_on_surface(faces)) if len(faces) else np.empty((0, 2))
    turns = np.array([_winding(point, starts, ends) for point in points], dtype=int)
    return shapely.union_all(faces[turns % 2 == 1 if rule == "evenodd" else turns != 0])


def refuse_tangle(pieces: NDArray[np.object_]) -> None:
    """Refuse pieces of which more pairs meet than can be worked on.

    Raises
    ------
    TangleError
        If their bounding boxes meet too often.
    """
    tree = shapely.STRtree(pieces)
    left = MAX_CROSSINGS + 6 * len(pieces)  # each one meets itself and its neighbours, seen from both
    for k in range(0, len(pieces), CHUNK):
        left -= tree.query(pieces[k : k + CHUNK]).shape[1]
        if left < 0:
            raise TangleError("the lines cross each other too often; simplify them")


def as_contours(area: BaseGeometry, least: float) -> tuple[Contour, ...]:
    """Give the outlines and holes of polygons; those of an area up to `least` mm² are rounding."""
    return tuple(
        Contour.polyline(shapely.get_coordinates(ring)[:-1])
        for polygon in _polygons(area)
        for ring in (polygon.exterior, *polygon.interiors)
        if abs(Polygon(ring).area) > least
    )


def _polygons(area: BaseGeometry) -> Iterable[Polygon]:
    parts = area.geoms if hasattr(area, "geoms") else [area]
    for part in parts:
        if isinstance(part, MultiPolygon):
            yield from part.geoms
        elif isinstance(part, Polygon) and not part.is_empty:
            yield part


def _winding(point: Floats, starts: Floats, ends: Floats) -> int:
    """Count how often edges run round a point, by those that cross the ray to its right."""
    y = point[1]
    up = (starts[:, 1] <= y) & (ends[:, 1] > y)
    down = (starts[:, 1] > y) & (ends[:, 1] <= y)
    a, b = starts - point, ends - point
    left = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    return int(np.count_nonzero(up & (left > 0)) - np.count_nonzero(down & (left < 0)))
