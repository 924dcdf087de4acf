"""The first stretch of a cut, in the waste, so that the beam's first hole does not mark the edge."""

import math
from collections.abc import Sequence
from functools import cached_property

import shapely
from shapely.geometry.base import BaseGeometry

from nesting.geometry.contour import Arc, Contour
from nesting.routing.shapes import Point

LEANS = (0.0, 30.0, -30.0, 60.0, -60.0)
"""Degrees by which a lead-in may lean from the perpendicular."""

SHARES = (1.0, 0.5, 0.25)
"""Shares of its length that are tried where there is no room for all of it."""

FINE_MM = 0.002
TOUCH_MM = 0.01
"""So much of a lead-in may lie on the contour that it leads to."""


class Waste:
    """What falls out when a closed contour is cut: its inside, or for a sheet's own outline the outside."""

    def __init__(self, contour: Contour, inner: Sequence[Contour], *, outside: bool = False) -> None:
        self._contour, self._inner, self._outside = contour, inner, outside

    @cached_property
    def area(self) -> BaseGeometry:
        """The waste, what lies inside it and is cut before left out."""
        ring: BaseGeometry = shapely.make_valid(shapely.Polygon(self._contour.flattened(FINE_MM)))
        if self._outside:
            area: BaseGeometry = shapely.box(*ring.buffer(1e4).bounds).difference(ring)
        else:
            holes = [shapely.Polygon(inner.flattened(FINE_MM)) for inner in self._inner if inner.closed]
            area = ring.difference(shapely.union_all(holes)) if holes else ring
        shapely.prepare(area)
        return area

    def lead(self, vertex: int, length: float) -> Point | None:
        """Find where the beam goes on for a cut that begins at a vertex; None where there is no room."""
        x, y, _ = self._contour.vertices[vertex]
        inward = self._inward(vertex)
        for share in SHARES:
            for lean in LEANS:
                angle = inward + math.radians(lean)
                c, s = math.cos(angle), math.sin(angle)
                point = (x + length * share * c, y + length * share * s)
                touch = min(TOUCH_MM, length * share / 2)
                way = shapely.LineString([point, (x + touch * c, y + touch * s)])
                if self.area.covers(way):
                    return point
        return None

    def _inward(self, vertex: int) -> float:
        """Direction into the waste, halfway between the stretches that meet at a vertex."""
        before, after = _headings(self._contour, vertex)
        half = math.remainder(after - before, 2 * math.pi) / 2
        left = (self._contour.area > 0) != self._outside
        return before + half + (math.pi / 2 if left else -math.pi / 2)


def _headings(contour: Contour, vertex: int) -> tuple[float, float]:
    """Headings with which a closed contour arrives at a vertex and leaves it."""
    segments = contour.segments
    ends = []
    for (a, b), at_end in ((segments[vertex - 1], True), (segments[vertex], False)):
        if a[2]:
            arc = Arc.between(a, b)
            ends.append(arc.start + (arc.sweep if at_end else 0) + math.copysign(math.pi / 2, arc.sweep))
        else:
            ends.append(math.atan2(b[1] - a[1], b[0] - a[0]))
    return ends[0], ends[1]


def with_lead(contour: Contour, vertex: int, lead: Point | None) -> Contour:
    """Give what the beam runs: the lead-in, then a closed contour from a vertex back to it.

    >>> square = Contour.polyline([(0, 0), (9, 0), (9, 9), (0, 9)])
    >>> with_lead(square, 1, (8, 1)).vertices[:2], with_lead(square, 1, (8, 1)).closed
    (((8.0, 1.0, 0.0), (9.0, 0.0, 0.0)), False)
    """
    started = contour.started(vertex) if contour.closed else contour
    if lead is None:
        return started
    x, y, _ = started.vertices[0]
    return Contour(((*lead, 0.0), *started.vertices, (x, y, 0.0)), closed=False)
