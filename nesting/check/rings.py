"""The check of areas filled by rings: the rings' bands cover them, stay in them, and do not overlap."""

from collections.abc import Sequence

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from nesting.check.solids import chain
from nesting.plan_values import Part

_OVER_MM = 0.02
_LEAST_COVERED = 0.95
_MOST_TWICE = 0.1


def rings_fault(
    rings: Sequence[Part], areas: Sequence[Part], interval: float, spread: float = 1.0
) -> str | None:
    """Say what is wrong with the rings that should fill areas, `interval` mm apart.

    Corners and what is narrower than an interval stay partly unmarked: 95 % of what a band as wide as
    the interval can reach must be marked, and no more than 10 % of it twice. Rings round a body may lie
    `spread` times as far apart along its surface.
    """
    area = shapely.union_all([area_of(part) for part in areas])
    reached = area.buffer(-interval / 2, join_style="mitre").buffer(interval / 2)
    lines = [_ring(part) for part in rings]
    if not lines:
        return None if reached.area <= interval**2 else "an area is not filled; fill it"
    if not area.buffer(_OVER_MM).covers(shapely.union_all(lines)):
        return "a ring leaves its area; move it in"
    bands = [line.buffer(interval / 2, join_style="mitre") for line in lines]
    joint = shapely.union_all(bands)
    if joint.intersection(reached).area < _LEAST_COVERED / spread * reached.area - interval**2:
        return f"{joint.intersection(reached).area / reached.area:.0%} of the area is marked; mark all of it"
    twice = sum(band.area for band in bands) - joint.area
    if twice > _MOST_TWICE * joint.area + interval**2:
        return f"{twice / joint.area:.0%} of the area is marked twice; space the rings {interval:g} mm apart"
    return None


def _ring(part: Part) -> shapely.LineString:
    points = chain(part.contours[0])
    return shapely.LineString(np.vstack([points, points[:1]]) if part.contours[0].closed else points)


def area_of(part: Part) -> BaseGeometry:
    """Make the area by adding faces up: a face is inside by how often the contours run round it."""
    rings = [np.vstack([p, p[:1]]) for p in (chain(contour, 1e-3) for contour in part.contours)]
    faces = shapely.get_parts(
        shapely.polygonize([shapely.union_all([shapely.LineString(ring) for ring in rings])])
    )
    kept = [face for face in faces if _is_inside(face.representative_point(), rings, part.rule)]
    return shapely.union_all(kept)


def _is_inside(point: shapely.Point, rings: Sequence[np.ndarray], rule: str) -> bool:
    """Sum up the angles under which the contours are seen from a point."""
    here = complex(point.x, point.y)
    turns = 0
    for ring in rings:
        seen = ring[:, 0] + 1j * ring[:, 1] - here
        turns += round(float(np.angle(seen[1:] / seen[:-1]).sum() / (2 * np.pi)))
    return turns % 2 == 1 if rule == "evenodd" else turns != 0
