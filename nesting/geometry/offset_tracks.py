"""The tracks that an offset outline follows, one for every feature of its source."""

import math

from nesting.geometry.contour import Points
from nesting.geometry.nearest import Boundary, Floats
from nesting.geometry.region import Region
from nesting.geometry.track import Circle, Line, Point, Track, crossings

EXACT_MM = 1e-6
"""Largest error in distance of an exact offset."""


class NotExactError(Exception):
    """The exact offset could not be found."""


class OffsetTracks:
    """The features of a source and the track that an offset follows beside each.

    Feature k below n is piece k of the boundary, feature n + k the corner at the start of piece k.
    """

    def __init__(self, region: Region, distance: float) -> None:
        self.distance = distance
        self.boundary = Boundary(region)
        pieces = self.boundary.pieces
        self.count = len(pieces)
        self.after = {piece.before: k for k, piece in enumerate(pieces)}
        self.smooth = [self._is_smooth(k) for k in range(self.count)]
        beside = [self._beside(k) for k in range(self.count)]
        sense = 1 if distance > 0 else -1
        round_corner = [Circle(p.start[0], p.start[1], abs(distance), sense) for p in pieces]
        self.tracks: list[Track | None] = [*beside, *round_corner]

    def track(self, feature: int) -> Track:
        """Give the track of a feature.

        Raises
        ------
        NotExactError
            If the offset has used the feature up.
        """
        found = self.tracks[feature]
        if found is None:
            raise NotExactError
        return found

    def features(self, points: Points) -> tuple[Floats, list[int]]:
        """Find how far the source is from each point, and which feature of it is nearest."""
        distance, piece, place = self.boundary.nearest(points)
        return distance, [self._feature(int(k), int(p)) for k, p in zip(piece, place, strict=True)]

    def joint(self, a: int, b: int, near: Point) -> Point | None:
        """Find where the track of feature `a` hands over to that of `b`."""
        n, pieces = self.count, self.boundary.pieces
        if a < n and a == pieces[b % n].before and (b >= n or self.smooth[b]):
            return self._end(a, at_end=True)
        if a == b + n:
            return self._end(b, at_end=False)
        found = crossings(self.track(a), self.track(b))
        return min(found, key=lambda p: math.dist(p, near), default=None)

    def _feature(self, piece: int, place: int) -> int:
        corner = self.after[piece] if place > 0 else piece
        return piece if place == 0 or self.smooth[corner] else corner + self.count

    def _is_smooth(self, k: int) -> bool:
        piece = self.boundary.pieces[k]
        a = self.boundary.pieces[piece.before].tangent(at_end=True)
        b = piece.tangent(at_end=False)
        return a[0] * b[0] + a[1] * b[1] > 0 and abs(a[0] * b[1] - a[1] * b[0]) < 1e-7

    def _beside(self, k: int) -> Track | None:
        piece = self.boundary.pieces[k]
        if piece.arc is None:
            return Line(*self._end(k, at_end=False), *piece.tangent(at_end=False))
        sense = 1 if piece.arc.sweep > 0 else -1
        radius = piece.arc.radius + sense * self.distance
        return Circle(piece.arc.x, piece.arc.y, radius, sense) if radius > EXACT_MM else None

    def _end(self, k: int, *, at_end: bool) -> Point:
        """Shift an end of a piece square to the piece; the region lies on its left."""
        piece = self.boundary.pieces[k]
        dx, dy = piece.tangent(at_end=at_end)
        x, y, _ = piece.end if at_end else piece.start
        return x + dy * self.distance, y - dx * self.distance
