"""Exact distances from points to the lines and arcs of a region's boundary."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nesting.geometry.contour import Arc, Points, Vertex
from nesting.geometry.region import Region

Floats = NDArray[np.float64]
Indices = NDArray[np.int64]


@dataclass(frozen=True)
class Piece:
    """One line or arc of a boundary, the region on its left."""

    start: Vertex
    end: Vertex
    arc: Arc | None
    before: int
    """Index of the piece that ends where this one starts."""

    def tangent(self, *, at_end: bool) -> tuple[float, float]:
        """Direction of travel at one of the ends, of length 1."""
        dx, dy = self.end[0] - self.start[0], self.end[1] - self.start[1]
        long = math.hypot(dx, dy)
        dx, dy = dx / long, dy / long
        if self.arc is None:
            return dx, dy
        # at either end an arc leaves its chord by half its angle
        lean = self.arc.sweep / 2 * (1 if at_end else -1)
        c, s = math.cos(lean), math.sin(lean)
        return c * dx - s * dy, s * dx + c * dy


class Boundary:
    """The lines and arcs of a region, ready for distances.

    Examples
    --------
    >>> boundary = Boundary(Region.circle(10))
    >>> [round(float(d), 9) for d in boundary.nearest(np.array([[8.0, 0.0], [0.0, 1.0]]))[0]]
    [3.0, 4.0]
    """

    def __init__(self, region: Region) -> None:
        self.pieces: list[Piece] = []
        for contour in (region.outer, *region.holes):
            kept = [(a, b) for a, b in contour.segments if math.dist(a[:2], b[:2]) > 1e-9]
            first = len(self.pieces)
            for k, (a, b) in enumerate(kept):
                arc = Arc.between(a, b) if a[2] else None
                self.pieces.append(Piece(a, b, arc, first + (k - 1) % len(kept)))
        self._start = np.array([p.start[:2] for p in self.pieces])
        self._end = np.array([p.end[:2] for p in self.pieces])
        self._arcs = [k for k, p in enumerate(self.pieces) if p.arc is not None]

    def nearest(self, points: Points) -> tuple[Floats, Indices, Indices]:
        """Find the nearest piece of each point.

        Parameters
        ----------
        points
            Shape (n, 2), mm.

        Returns
        -------
        Distances in mm, indices of the pieces, and where on the piece: -1 its start, 1 its end,
        0 between them; each of shape (n,).
        """
        parts = np.array_split(points, max(1, len(points) * len(self.pieces) // 500_000))
        found = [self._nearest(part) for part in parts]
        distance, piece, place = (np.concatenate(column) for column in zip(*found, strict=True))
        return distance, piece, place

    def _nearest(self, points: Points) -> tuple[Floats, Indices, Indices]:
        distance, place = self._to_lines(points)
        for k in self._arcs:
            arc = self.pieces[k].arc
            if arc is not None:
                distance[:, k], place[:, k] = _to_arc(points, arc, self._start[k], self._end[k])
        piece = np.argmin(distance, axis=1)
        rows = np.arange(len(points))
        return distance[rows, piece], piece, place[rows, piece]

    def _to_lines(self, points: Points) -> tuple[Floats, Indices]:
        along = self._end - self._start
        share = ((points[:, None] - self._start) * along).sum(axis=2) / (along**2).sum(axis=1)
        place = np.where(share <= 0, -1, np.where(share >= 1, 1, 0))
        foot = self._start + np.clip(share, 0, 1)[:, :, None] * along
        return np.hypot(*np.moveaxis(points[:, None] - foot, 2, 0)), place


def _to_arc(points: Points, arc: Arc, start: Floats, end: Floats) -> tuple[Floats, Indices]:
    x, y = points[:, 0] - arc.x, points[:, 1] - arc.y
    ahead = (np.arctan2(y, x) - arc.start) * math.copysign(1, arc.sweep) % (2 * math.pi)
    to_start, to_end = np.hypot(*(points - start).T), np.hypot(*(points - end).T)
    beside = ahead < abs(arc.sweep)
    distance = np.where(beside, np.abs(np.hypot(x, y) - arc.radius), np.minimum(to_start, to_end))
    return distance, np.where(beside, 0, np.where(to_start < to_end, -1, 1))
