"""What the cut path of a sheet must heed: what lies inside what, distances, webs, room for lead-ins."""

from collections.abc import Sequence

import numpy as np
import shapely
from shapely import Point as ShapelyPoint
from shapely import Polygon, STRtree

from nesting.geometry.contour import Contour
from nesting.geometry.region import Region
from nesting.job.job import Machine
from nesting.routing.entries import Spot, split
from nesting.routing.leads import Waste
from nesting.routing.legs import Order
from nesting.routing.shapes import Floats, Point

FINE_MM = 0.02
"""Contours are flattened to this where distances between them are measured."""


class CutTask:
    """Contours to be cut with what holds between them; those from `sheets` on cut out the sheet."""

    def __init__(
        self, contours: Sequence[Contour], sheets: int, machine: Machine, sheet: Region | None, start: Point
    ) -> None:
        self.contours, self.machine, self.start, self.sheets = contours, machine, start, sheets
        self.before = inside_first(contours)
        self.lines = [shapely.LineString(_ring(contour)) for contour in contours]
        edges = [shapely.LineString(_ring(ring)) for ring in (sheet.contours if sheet else ())]
        self.gaps = np.array([[a.distance(b) for b in [*self.lines, *edges]] for a in self.lines])
        self.edges = edges
        self.phase = self._phases()

    @property
    def heated(self) -> bool:
        """Whether heat must be spread."""
        return self.machine.heat_time > 0 and self.machine.heat_distance > 0

    @property
    def near(self) -> tuple[frozenset[int], ...]:
        """For each contour its neighbours in heat."""
        count = len(self.contours)
        hot = self.gaps[:, :count] < (self.machine.heat_distance if self.heated else 0)
        return tuple(frozenset(np.flatnonzero(row).tolist()) - {k} for k, row in enumerate(hot))

    def _phases(self) -> tuple[int, ...]:
        """Give 1 to what leaves a thin web or contains such, 2 to the sheet's outline, 0 to the others."""
        count = len(self.contours)
        others = self.gaps + np.where(np.eye(count, self.gaps.shape[1]) > 0, np.inf, 0)
        # the sheet's own outline is no web of a pocket's, its edge is
        others[:, self.sheets : count] = np.inf
        thin = others.min(axis=1, initial=np.inf) < self.machine.thin_web
        phase = [2 if k >= self.sheets else int(thin[k]) for k in range(count)]
        # pairs come with the inner ones first at any depth
        for inner, outer in self.before:
            phase[outer] = max(phase[outer], phase[inner]) if outer < self.sheets else 2
        return tuple(phase)

    def allowed(self, contour: int, places: list[Spot]) -> list[Spot]:
        """Keep the places away from thin webs, then those with room for a lead-in; all if none is so."""
        if self.machine.thin_web == self.machine.lead_in == 0:
            return places
        shape, index = split(self.contours[contour], places)
        found = list(zip(places, index, strict=True))
        if self.machine.thin_web > 0:
            others = [line for k, line in enumerate(self.lines[: self.sheets]) if k != contour] + self.edges
            tree, web = shapely.STRtree(others), self.machine.thin_web
            points = [ShapelyPoint(shape.vertices[k][:2]) for k in index]
            close = set(tree.query(points, "dwithin", web)[0].tolist()) if others else set()
            found = [pair for turn, pair in enumerate(found) if turn not in close] or found
        if self.machine.lead_in > 0:
            waste = self.waste(contour, shape)
            found = [pair for pair in found if waste.lead(pair[1], self.machine.lead_in)] or found
        return [place for place, _ in found]

    def waste(self, contour: int, shape: Contour) -> Waste:
        """Give what a contour, its vertices those of `shape`, cuts out."""
        inner = [self.contours[a] for a, b in self.before if b == contour]
        return Waste(shape, inner, outside=contour >= self.sheets)


def _ring(contour: Contour) -> Floats:
    points = contour.flattened(FINE_MM)
    return np.vstack([points, points[:1]]) if contour.closed else points


def inside_first(contours: Sequence[Contour]) -> list[Order]:
    """Pair contours of which the first lies inside the second.

    >>> inside_first([Contour.circle(9), Contour.circle(3), Contour.circle(2, x=20)])
    [(1, 0)]
    """
    areas = [abs(contour.area) if contour.closed else 0.0 for contour in contours]
    rings = [k for k, area in enumerate(areas) if area > 0]
    if not rings:
        return []
    polygons = {k: Polygon(contours[k].flattened()) for k in rings}
    points = [
        polygons[k].representative_point() if k in polygons else ShapelyPoint(contour.vertices[0][:2])
        for k, contour in enumerate(contours)
    ]
    inner, outer = STRtree(list(polygons.values())).query(points, predicate="within")
    pairs = zip(inner.tolist(), (rings[k] for k in outer), strict=True)
    return sorted((a, b) for a, b in pairs if areas[a] < areas[b])
