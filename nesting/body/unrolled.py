"""The side of a lying cylinder or frustum, laid flat: what is measured along it, and how it is seen.

Both are developable: laid flat, every length along the surface stays what it is. A cylinder becomes a
rectangle; a frustum a sector with radii R / sin α and the angle 360° sin α.
"""

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from nesting.body.body import Pose, Station, Turned, left_of
from nesting.body.solid import Solid, grid_over
from nesting.body.surface import on_side, top
from nesting.geometry.region import Region

Floats = NDArray[np.float64]

FINE_MM = 0.002
"""Outlines are carried over to this."""

_CYLINDER = 1e-7
_EDGE = 181
_SAME_MM = 1e-6


@dataclass(frozen=True)
class Unrolled:
    """One piece of a body's side. Flat places have x along the crown and y along the surface across it.

    On the crown of the station amid the piece they are the same as those seen from above.

    Attributes
    ----------
    piece
        Its two stations.
    pose, left
        How the body lies, and where seen from above its first station's middle is.

    Examples
    --------
    >>> from nesting.body.rest import rest
    >>> cup = Turned.cylinder(75, 120)
    >>> side = Unrolled(cup.pieces[0], rest(cup), 0.0)
    >>> side.seen(np.array([[60.0, 42.19022 / 2]])).round(5).tolist()
    [[60.0, 20.0]]
    >>> round(float(side.incidence(np.array([[60.0, 20.0]]))[0]), 4)
    32.231
    """

    piece: tuple[Station, Station]
    pose: Pose
    left: float

    @property
    def least_radius(self) -> float:
        """Radius of its narrower end in mm."""
        return min(radius for _, radius in self.piece)

    def seen(self, flat: Floats) -> Floats:
        """Say where flat places, shape (n, 2), lie as seen from above."""
        x, at, radius = self._middle
        u, v, alpha = flat[:, 0] - x, flat[:, 1], self._alpha
        if abs(alpha) < _CYLINDER:
            return self._from_above(at + u, np.full(len(u), radius), v / radius)
        apex = radius / math.sin(alpha)
        away = np.hypot(apex + u, v) * math.copysign(1, apex)
        # the difference of two long distances, without their rounding
        along = (u**2 + 2 * apex * u + v**2) / (away + apex)
        around = np.arctan(v / (apex + u)) / math.sin(alpha)
        return self._from_above(at + along * math.cos(alpha), away * math.sin(alpha), around)

    def flat(self, seen: Floats) -> Floats:
        """Say where places seen from above, shape (n, 2), lie flat; NaN beside the body."""
        at, around = self._on_side(seen)
        x, middle, radius = self._middle
        alpha = self._alpha
        along = (at - middle) / math.cos(alpha)
        if abs(alpha) < _CYLINDER:
            return np.column_stack([x + along, radius * around])
        apex, turn = radius / math.sin(alpha), around * math.sin(alpha)
        u = along * np.cos(turn) - 2 * apex * np.sin(turn / 2) ** 2
        return np.column_stack([x + u, (apex + along) * np.sin(turn)])

    def incidence(self, seen: Floats) -> Floats:
        """Measure the angle in degrees between beam and surface normal at places seen from above."""
        _, around = self._on_side(seen)
        tilt, alpha = math.radians(self.pose.tilt), self._alpha
        upright = math.cos(alpha) * math.cos(tilt) * np.cos(around) - math.sin(alpha) * math.sin(tilt)
        return np.asarray(np.degrees(np.arccos(np.clip(upright, -1, 1))))

    def under(self, seen: Floats) -> int:
        """Count the places seen from above that lie on it."""
        at, _ = self._on_side(seen)
        return int(((at >= self.piece[0][0]) & (at <= self.piece[1][0])).sum())

    def patch(self, most_incidence: float) -> Polygon:
        """Outline, as seen from above, what of it the beam meets at no more than so many degrees.

        Raises
        ------
        ValueError
            If even the crown is steeper.
        """
        tilt, alpha = math.radians(self.pose.tilt), self._alpha
        upright = math.cos(math.radians(most_incidence)) + math.sin(alpha) * math.sin(tilt)
        share = upright / (math.cos(alpha) * math.cos(tilt))
        if share >= 1:
            crown = abs(math.degrees(alpha + tilt))
            raise ValueError(
                f"even on the crown the beam meets the surface at {crown:.1f}°; allowed: most_incidence, "
                f"{most_incidence:g}°, or less (a shim that levels the crown helps)"
            )
        reach = math.acos(max(share, 0.0))
        around = np.linspace(-reach, reach, _EDGE)
        ends = [self._from_above(np.full(_EDGE, at), np.full(_EDGE, r), around) for at, r in self.piece]
        return Polygon(np.concatenate([ends[0], ends[1][::-1]]))

    def room(self, area: Polygon) -> Region:
        """Lay an area that is seen from above flat: its outline moved by no more than `FINE_MM`."""
        rings = [self._carried(ring) for ring in (area.exterior, *area.interiors)]
        return Region.polygon(rings[0], rings[1:])

    def _carried(self, ring: shapely.LinearRing) -> Floats:
        step = math.sqrt(8 * FINE_MM / 2 * self.least_radius)
        flat = self.flat(shapely.get_coordinates(ring.segmentize(step)))
        plain = shapely.LinearRing(flat).simplify(FINE_MM / 2)
        # a straight edge of a cylinder keeps only its ends, to the last digit that matters
        return np.asarray(_without_straight(shapely.get_coordinates(plain)[:-1]))

    @property
    def _middle(self) -> tuple[float, float, float]:
        """Station amid the piece: x of its crown seen from above, position and radius."""
        (near, first), (far, last) = self.piece
        at, radius = (near + far) / 2, (first + last) / 2
        return float(self._from_above(np.array([at]), np.array([radius]), np.zeros(1))[0, 0]), at, radius

    @property
    def _alpha(self) -> float:
        (near, first), (far, last) = self.piece
        return math.atan2(last - first, far - near)

    def _on_side(self, seen: Floats) -> tuple[Floats, Floats]:
        """Find position along the axis and angle from the crown, in radians."""
        tilt, along = math.radians(self.pose.tilt), seen[:, 0] - self.left
        z, at = on_side(*self.piece, tilt, along, seen[:, 1])
        return at, np.arctan2(seen[:, 1], z * math.cos(tilt) - along * math.sin(tilt))

    def _from_above(self, at: Floats, radius: Floats, around: Floats) -> Floats:
        tilt = math.radians(self.pose.tilt)
        x = at * math.cos(tilt) - radius * np.cos(around) * math.sin(tilt)
        return np.column_stack([self.left + x, radius * np.sin(around)])


def unrolled(solid: Solid, area: Region, most_incidence: float, thickness: float) -> tuple[Unrolled, Region]:
    """Lay the mark area of a body flat.

    Parameters
    ----------
    solid
        The body.
    area
        Its mark area, as seen from above.
    most_incidence
        Degrees between beam and surface normal; what is steeper is left out.
    thickness
        Of the sheet in mm.

    Returns
    -------
    The piece of the side with the largest part of the area, and that part laid flat.

    Raises
    ------
    ValueError
        If the body is a sphere, nothing of the area is left, or another part of the body hides some of it.
    """
    body, pose = solid.body, solid.pose(thickness)
    if not isinstance(body, Turned):
        raise ValueError("a sphere cannot be laid flat; allowed: wrap on cylinders and tapered bodies")
    left, whole = left_of(body, pose), area.shape("on", FINE_MM)
    found, steep = [], None
    for piece in body.pieces:
        side = Unrolled(piece, pose, left)
        try:
            shared = side.patch(most_incidence).intersection(whole)
        except ValueError as error:
            steep = steep or error
            continue
        parts = [part for part in shapely.get_parts(shared) if isinstance(part, Polygon) and part.area > 0]
        found += [(part.area, side, part) for part in parts]
    if not found and steep:
        raise steep
    if not found:
        raise ValueError(f"nothing of the mark area is met by the beam at {most_incidence:g}° or less")
    _, side, part = max(found, key=lambda one: one[0])
    _require_open(body, side, part)
    return side, side.room(part)


def side_under(solid: Solid, seen: Floats, thickness: float) -> Unrolled:
    """Find the piece of a body of revolution under most of the places seen from above, shape (n, 2)."""
    body, pose = solid.body, solid.pose(thickness)
    assert isinstance(body, Turned), "a sphere cannot be laid flat"
    sides = [Unrolled(piece, pose, left_of(body, pose)) for piece in body.pieces]
    return max(sides, key=lambda side: side.under(seen))


def _require_open(body: Turned, side: Unrolled, part: Polygon) -> None:
    places = grid_over(Region.polygon(shapely.get_coordinates(part.exterior)[:-1]))
    tilt = math.radians(side.pose.tilt)
    z, _ = on_side(*side.piece, tilt, places[:, 0] - side.left, places[:, 1])
    highest = top(body, side.pose, places[:, 0], places[:, 1])
    if np.nanmax(highest - side.pose.axis - z, initial=0.0) > _SAME_MM:
        raise ValueError("a part of the body hides some of the mark area from above; move the mark area")


def _without_straight(ring: Floats) -> list[list[float]]:
    """Leave out corners that lie on the line between their neighbours."""
    kept = []
    for before, here, after in zip(np.roll(ring, 1, 0), ring, np.roll(ring, -1, 0), strict=True):
        (ax, ay), (bx, by) = here - before, after - here
        if abs(ax * by - ay * bx) > 1e-9 * max(math.hypot(ax, ay) * math.hypot(bx, by), 1e-9):
            kept.append([round(float(here[0]), 9), round(float(here[1]), 9)])
    return kept
