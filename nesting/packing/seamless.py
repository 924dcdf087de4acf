"""Filling a whole sheet without waste, as a jigsaw is laid: corner by corner, edges flush.

In a filling without waste every convex corner of what is still free is the corner of a piece, one of
whose sides lies along the free region's. So few pieces fit each corner, and mostly one corner has
hardly any: that one is laid first, and where one has none the last piece is taken up again.
"""

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Geometry, Polygon
from shapely.geometry.polygon import orient

from nesting.geometry.contour import Points
from nesting.packing.compaction import Compaction
from nesting.packing.filling import Spot
from nesting.packing.room import Room
from nesting.packing.shapes import Shapes
from nesting.packing.stop import Stop
from nesting.units import GRID_MM, snap

_PLAY = 2.5 * GRID_MM
"""How far flush sides may be apart (mm), from rounding to the grid."""

_BENT = 1e-3
"""Least bend of a corner in radians."""

_MANY = 12
"""A corner that more pieces suit by their angles is not looked into unless there is no other."""

_FIRST_PIECES, _MOST_PIECES = 30, 400
"""Pieces tried in the first search and at most in a later one."""

_SETTLING_MM = 0.01
"""How far pieces are moved at last to touch exactly."""

_PER_PIECE = 2e-3
"""Effort of trying a piece."""


@dataclass(frozen=True, eq=False)
class _Corners:
    """Convex corners of polygons: where, the sides leaving and arriving there, and the angle between.

    Attributes
    ----------
    at
        The corners, shape (n, 2).
    leaving, arriving
        Ways along the two sides away from the corner, shape (n, 2); the inside lies from
        `leaving` counter-clockwise to `arriving`.
    angle
        The angle between in radians.
    """

    at: Points
    leaving: Points
    arriving: Points
    angle: NDArray[np.float64]

    @classmethod
    def of(cls, polygons: Sequence[Polygon]) -> "_Corners":
        whole = [orient(polygon) for polygon in polygons]
        contours = [contour for polygon in whole for contour in (polygon.exterior, *polygon.interiors)]
        rings = [np.empty((0, 2)), *(shapely.get_coordinates(contour)[:-1] for contour in contours)]
        at = np.concatenate(rings)
        leaving = np.concatenate([np.roll(ring, -1, axis=0) - ring for ring in rings])
        arriving = np.concatenate([np.roll(ring, 1, axis=0) - ring for ring in rings])
        cross = leaving[:, 0] * arriving[:, 1] - leaving[:, 1] * arriving[:, 0]
        angle = np.arctan2(cross, (leaving * arriving).sum(axis=1)) % (2 * math.pi)
        convex = angle < math.pi - _BENT
        return cls(at[convex], leaving[convex], arriving[convex], angle[convex])


class Seamless:
    """Finds fillings of one kind of sheet without waste.

    Clear distances are dealt with by growing every outline, and the sheet, by half the largest of them.
    """

    def __init__(self, shapes: Shapes, room: Room, rng: np.random.Generator) -> None:
        self.rng, self.room, self.catalogue = rng, room, shapes
        self.left, self.tries, self.spots = Counter[str](), 0, list[Spot]()
        half = max(shape.item.gap for shape in shapes.all) / 2
        self.free = _free(room, half)
        self.shapes = [shape for shape in shapes.all if not shape.outline.interiors and room.positions(shape)]
        outlines = [shape.outline.buffer(half, join_style="mitre", mitre_limit=100) for shape in self.shapes]
        self.points = [shapely.get_coordinates(outline.exterior) for outline in outlines]
        self.bounds = [outline.bounds for outline in outlines]
        self.areas = {s.item.name: outline.area for s, outline in zip(self.shapes, outlines, strict=True)}
        self.table = _Corners.of(outlines)
        self.owner = np.repeat(np.arange(len(outlines)), [len(_Corners.of([o]).at) for o in outlines])

    def fill(self, left: Counter[str], stop: Stop) -> list[Spot] | None:
        """Fill the sheet from what is left of each item; None if `stop` is reached or there is no way.

        Searches are short at first and begin afresh, in another order, when they come to no end.
        """
        pieces: float = _FIRST_PIECES
        while sum(self.areas.get(item, 0.0) * count for item, count in left.items()) > self._least():
            self.left, self.tries, self.spots = Counter(left), int(pieces), []
            if self.free and self._lay(self.free, stop):
                return Compaction(self.room, self.catalogue, self.spots, _SETTLING_MM).settle(stop)
            if self.tries > 0 or stop.reached:
                return None
            pieces = min(pieces * 1.1, _MOST_PIECES)
        return None

    def _least(self) -> float:
        return sum(part.area for part in self.free) - GRID_MM

    def _lay(self, free: list[Polygon], stop: Stop) -> bool:
        """Lay pieces until nothing is free, taking them up again where none fits."""
        if not free:
            return True
        for k, shift in self._choices(free):
            if self.tries <= 0 or stop.reached:
                return False
            self.tries -= 1
            stop.spend(_PER_PIECE)
            piece = Polygon(self.points[k] + shift)
            self.left[self.shapes[k].item.name] -= 1
            self.spots.append(Spot(self.shapes[k], snap(float(shift[0])), snap(float(shift[1]))))
            if self._lay(_without(free, piece), stop):
                return True
            self.spots.pop()
            self.left[self.shapes[k].item.name] += 1
        return False

    def _choices(self, free: list[Polygon]) -> list[tuple[int, Points]]:
        """Pieces, each with its shift, for the corner that the fewest fit; none if one fits nothing."""
        corners = _Corners.of(free)
        suits = self._suits(corners)
        counts = suits.sum(axis=1)
        if not counts.all():
            return []
        roomy = shapely.union_all(shapely.buffer(free, _PLAY, join_style="mitre"))
        shapely.prepare(roomy)
        best: list[tuple[float, int, Points]] | None = None
        for c in np.argsort(counts, kind="stable").tolist():
            if best is not None and (counts[c] > _MANY or len(best) == 1):
                break
            found = list(self._fitting(corners, c, np.flatnonzero(suits[c]), roomy))
            if not found:
                return []
            if best is None or len(found) < len(best):
                best = found
        return [(k, shift) for _, k, shift in sorted(best or [], key=lambda choice: -choice[0])]

    def _suits(self, corners: _Corners) -> NDArray[np.bool_]:
        """Tell which corners of pieces lie flush in which corners of the free region."""
        table = self.table
        out, along = _unit(corners.leaving)[:, None], _unit(table.leaving)
        shorter = np.minimum(_length(corners.leaving)[:, None], _length(table.leaving))
        aside = out[..., 0] * along[:, 1] - out[..., 1] * along[:, 0]
        ahead = (out * along).sum(axis=2) > 0
        spare = corners.angle[:, None] - table.angle
        there = np.array([self.left[shape.item.name] > 0 for shape in self.shapes])[self.owner]
        return np.asarray(ahead & (np.abs(aside) * shorter < _PLAY) & (spare > -_BENT) & there)

    def _fitting(
        self, corners: _Corners, c: int, entries: NDArray[np.intp], roomy: Geometry
    ) -> Iterator[tuple[float, int, Points]]:
        """Give the pieces that fit a corner with the room there is, each with how snugly it does."""
        table = self.table
        x0, y0, x1, y1 = shapely.bounds(roomy).tolist()
        for e in entries.tolist():
            k = int(self.owner[e])
            shift = np.asarray(np.round((corners.at[c] - table.at[e]) / GRID_MM) * GRID_MM)
            dx, dy = shift.tolist()
            a, b, d, f = self.bounds[k]
            if a + dx < x0 or b + dy < y0 or d + dx > x1 or f + dy > y1:
                continue
            if shapely.covers(roomy, Polygon(self.points[k] + shift)):
                flush = [
                    _same(corners.leaving[c], table.leaving[e]),
                    _same(corners.arriving[c], table.arriving[e]),
                    bool(corners.angle[c] - table.angle[e] < _BENT),
                ]
                yield sum(flush) + 0.99 * float(self.rng.random()), k, shift


def _same(a: Points, b: Points) -> bool:
    return bool(np.abs(a - b).max() < 2 * _PLAY)


def _length(ways: Points) -> NDArray[np.float64]:
    return np.asarray(np.hypot(ways[..., 0], ways[..., 1]))


def _unit(ways: Points) -> Points:
    return np.asarray(ways / _length(ways)[..., None])


def _free(room: Room, half: float) -> list[Polygon]:
    """Give what a sheet leaves free, grown by half a gap; nothing if it cannot be grown."""
    x0, y0, x1, y1 = room.extent
    if any(obstacle.gap or half for obstacle in room.obstacles):
        return []
    taken = shapely.union_all([Polygon(piece) for obstacle in room.obstacles for piece in obstacle.pieces])
    whole = shapely.box(x0 - half, y0 - half, x1 + half, y1 + half)
    return _parts(shapely.difference(whole, taken, grid_size=GRID_MM))


def _without(free: list[Polygon], piece: Polygon) -> list[Polygon]:
    found = []
    for part in free:
        if part.intersects(piece):
            found += _parts(shapely.difference(part, piece, grid_size=GRID_MM))
        else:
            found.append(part)
    return found


def _parts(region: Geometry) -> list[Polygon]:
    """Give the parts that are more than play."""
    return [p for p in shapely.get_parts(region) if isinstance(p, Polygon) and p.area > _PLAY * p.length]
