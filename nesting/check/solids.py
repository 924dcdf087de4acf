"""Footprints where they lie, and how far apart they are.

A disc is its centre and its radius, exactly. Every other outline is a polygon whose arcs are cut
into chords so short that none is further than 0.1 µm from its arc.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from nesting.geometry.contour import Contour
from nesting.geometry.region import Region

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
Bools = NDArray[np.bool_]

TOLERANCE_MM = 0.001
"""Clear distances are verified to this."""
CHORD_MM = 1e-4
"""Largest distance between an arc and its chord."""
_NOISE_MM = 1e-9


@dataclass(frozen=True)
class Solid:
    """Everything within `radius` of the core: a point for a disc, otherwise a polygon and radius 0."""

    core: shapely.Geometry
    radius: float


class Solids:
    """Solids on one sheet.

    Attributes
    ----------
    cores, radii
        Their cores and radii, shape (n,).
    """

    def __init__(self, solids: Sequence[Solid]) -> None:
        self.cores: NDArray[Any] = np.array([solid.core for solid in solids], dtype=object)
        self.radii: Floats = np.array([solid.radius for solid in solids], dtype=float)

    @cached_property
    def boxes(self) -> Floats:
        """Their extents ``(min x, min y, max x, max y)``, shape (n, 4)."""
        return np.asarray(shapely.bounds(self.cores) + self.radii[:, None] * (-1, -1, 1, 1), dtype=float)

    def too_close(self, needs: Floats) -> list[tuple[int, int, float]]:
        """Find the pairs nearer to each other than the larger of what the two need, in mm, shape (n,).

        Returns
        -------
        ``(i, j, clear distance)`` for each pair; the distance is negative if they share an area.
        """
        first, second = self._neighbours(float(needs.max()))
        need = np.maximum(needs[first], needs[second])
        near = _boxes_near(self.boxes[first], self.boxes[second], need)
        first, second, need = first[near], second[near], need[near]
        clear = (
            shapely.distance(self.cores[first], self.cores[second]) - self.radii[first] - self.radii[second]
        )
        shared = self._shared(first, second, clear)
        bad = shared | (clear < need - TOLERANCE_MM - _NOISE_MM)
        clear = np.where(shared, np.minimum(clear, -TOLERANCE_MM), np.maximum(clear, 0))
        return [
            (int(i), int(j), float(d)) for i, j, d in zip(first[bad], second[bad], clear[bad], strict=True)
        ]

    def outside(self, sheet: shapely.Geometry, margin: float) -> list[tuple[int, float]]:
        """Find the solids nearer to the edge of a sheet than the margin: index and clear distance."""
        edge = shapely.boundary(sheet)
        shapely.prepare((sheet, edge))
        clear = shapely.distance(self.cores, edge) - self.radii
        away = ~shapely.intersects(sheet, self.cores)
        polygon = self.radii == 0
        beyond = np.array(shapely.is_empty(self.cores))
        doubtful = polygon & (clear <= _NOISE_MM)
        beyond[doubtful] = is_wide(shapely.difference(self.cores[doubtful], sheet))
        beyond |= away | (~polygon & (clear < -TOLERANCE_MM))
        bad = beyond | (clear < margin - TOLERANCE_MM - _NOISE_MM)
        clear = np.where(beyond, np.minimum(clear, -TOLERANCE_MM), np.maximum(clear, 0))
        return [(int(i), float(clear[i])) for i in np.flatnonzero(bad)]

    def entering(self, keep_out: shapely.Geometry) -> list[int]:
        """Find the solids that enter a keep-out by more than 1 µm."""
        clear = shapely.distance(self.cores, keep_out) - self.radii
        inside = clear < -TOLERANCE_MM
        doubtful = (self.radii == 0) & (clear <= 0)
        inside[doubtful] = is_wide(shapely.intersection(self.cores[doubtful], keep_out))
        return [int(i) for i in np.flatnonzero(inside)]

    def _neighbours(self, most: float) -> tuple[Ints, Ints]:
        low, high = self.boxes[:, :2] - most, self.boxes[:, 2:] + most
        tree = shapely.STRtree(np.asarray(shapely.box(*self.boxes.T), dtype=object))
        first, second = tree.query(shapely.box(*low.T, *high.T))
        return first[first < second], second[first < second]

    def _shared(self, first: Ints, second: Ints, clear: Floats) -> Bools:
        """Tell which pairs share a stretch wider than 1 µm."""
        shared: Bools = clear < -TOLERANCE_MM
        touching = (clear <= 0) & (self.radii[first] == 0) & (self.radii[second] == 0)
        i, j = first[touching], second[touching]
        shared[touching] = is_wide(shapely.intersection(self.cores[i], self.cores[j]))
        return shared


def is_wide(areas: NDArray[Any]) -> Bools:
    """Tell for each area whether a circle of 1 µm fits into it."""
    shrunk = shapely.buffer(areas, -TOLERANCE_MM / 2, join_style="mitre")
    return ~np.asarray(shapely.is_empty(shrunk), dtype=bool)


@lru_cache(maxsize=4096)
def turned_solid(region: Region, turn: float, mirrored: bool = False) -> Solid:
    """Mirror an outline in the y axis if asked, and turn it round (0, 0)."""
    rings = [_turned(chain(contour), turn, mirrored) for contour in (region.outer, *region.holes)]
    disc = None if region.holes else _disc(region.outer)
    if disc is not None:
        x, y, radius = disc
        centre = _turned(np.array([[x, y]]), turn, mirrored)[0]
        return Solid(shapely.Point(centre), radius)
    return Solid(shapely.Polygon(rings[0], rings[1:]), 0.0)


def placed_solid(region: Region, x: float, y: float, turn: float, mirrored: bool = False) -> Solid:
    """Turn an outline round (0, 0), then shift it by (x, y)."""
    solid = turned_solid(region, turn, mirrored)
    return Solid(shapely.transform(solid.core, lambda points: points + np.array([x, y])), solid.radius)


def polygon(region: Region) -> shapely.Polygon:
    """Cut the arcs of an outline into chords."""
    return shapely.Polygon(chain(region.outer), [chain(hole) for hole in region.holes])


def chain(contour: Contour, chord: float = CHORD_MM) -> Floats:
    """Give points along a contour, with chords no further than `chord` mm from its arcs, shape (n, 2)."""
    ends = contour.vertices[1:] + (contour.vertices[:1] if contour.closed else ())
    pieces = [_stretch(a, b, chord) for a, b in zip(contour.vertices, ends, strict=False)]
    if not contour.closed:
        pieces.append(np.array([contour.vertices[-1][:2]]))
    return np.concatenate(pieces)


def arc_of(a: tuple[float, float, float], b: tuple[float, float, float]) -> tuple[complex, float]:
    """Centre, as x + iy, and signed sweep in radians of the arc from `a` to `b`, with the bulge of `a`.

    The bulge is the tangent of a quarter of the sweep (published DXF reference, LWPOLYLINE code 42).
    """
    start, chord = complex(*a[:2]), complex(b[0] - a[0], b[1] - a[1])
    sweep = 4 * math.atan(a[2])
    return start + chord / 2 * (1 + 1j / math.tan(sweep / 2)), sweep


def _stretch(a: tuple[float, float, float], b: tuple[float, float, float], chord: float) -> Floats:
    """Points from `a` to `b`, `b` left out."""
    if a[2] == 0:
        return np.array([a[:2]])
    centre, sweep = arc_of(a, b)
    radius = abs(complex(*a[:2]) - centre)
    step = 2 * math.acos(max(1 - chord / radius, 0.0)) if radius > 0 else math.pi
    count = max(math.ceil(abs(sweep) / step), 1)
    points = centre + (complex(*a[:2]) - centre) * np.exp(1j * sweep * np.arange(count) / count)
    return np.column_stack([points.real, points.imag])


def _turned(points: Floats, turn: float, mirrored: bool) -> Floats:
    """Mirror points in the y axis if asked, and turn them round (0, 0)."""
    places = points[:, 0] * (-1 if mirrored else 1) + 1j * points[:, 1]
    quarters, rest = divmod(turn % 360, 90)
    places = places * 1j ** int(quarters) * (np.exp(1j * math.radians(rest)) if rest else 1)
    return np.column_stack([places.real, places.imag])


def _disc(contour: Contour) -> tuple[float, float, float] | None:
    """Centre and radius, if every stretch is an arc of one circle and they go round once."""
    ends = contour.vertices[1:] + contour.vertices[:1]
    if not all(vertex[2] for vertex in contour.vertices):
        return None
    arcs = [arc_of(a, b) for a, b in zip(contour.vertices, ends, strict=True)]
    centre = arcs[0][0]
    radii = [abs(complex(*vertex[:2]) - centre) for vertex in contour.vertices]
    same = all(abs(other - centre) <= _NOISE_MM for other, _ in arcs) and max(radii) - min(radii) <= _NOISE_MM
    once = math.isclose(abs(sum(sweep for _, sweep in arcs)), 2 * math.pi, rel_tol=1e-9)
    return (centre.real, centre.imag, max(radii)) if same and once else None


def _boxes_near(a: Floats, b: Floats, need: Floats) -> Bools:
    """Tell which pairs of extents do not already show that enough is clear between them."""
    apart = np.maximum(a[:, :2] - b[:, 2:], b[:, :2] - a[:, 2:])
    clear = np.hypot(*np.maximum(apart, 0).T)
    enough = (clear >= need - TOLERANCE_MM) & (apart.max(axis=1) >= -TOLERANCE_MM)
    return np.asarray(~enough, dtype=bool)
