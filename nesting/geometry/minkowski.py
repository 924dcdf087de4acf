"""Convex pieces of a polygon, their Minkowski sums, and growing them by a clear distance."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from nesting.geometry.contour import Points

_STRAIGHT = 1e-9
"""Sine of the largest bend that still counts as straight on."""

_LEAST_MM = 1e-6
"""A shorter side is none."""


def convex_pieces(polygon: Polygon) -> tuple[Points, ...]:
    """Cut a polygon, holes and all, into convex pieces.

    A constrained triangulation whose diagonals are taken out again where the joined pieces stay
    convex (Hertel & Mehlhorn 1983: at most four times as many pieces as are needed).

    Returns
    -------
    Arrays of shape (n, 2), each counter-clockwise, without repeated or straight-on corners.

    Examples
    --------
    >>> bracket = Polygon([(0, 0), (3, 0), (3, 1), (1, 1), (1, 3), (0, 3)])
    >>> len(convex_pieces(bracket))
    2
    """
    polygon = shapely.remove_repeated_points(polygon, _LEAST_MM)
    outline = _corners(shapely.get_coordinates(polygon.exterior)[:-1])
    if not polygon.interiors and _is_convex(outline):
        return (outline,)
    triangles = shapely.get_parts(shapely.constrained_delaunay_triangles(polygon))
    rings = [_counter_clockwise(shapely.get_coordinates(t)[:3]) for t in triangles]
    points, index = np.unique(np.concatenate(rings), axis=0, return_inverse=True)
    threes = [list(map(int, three)) for three in index.reshape(-1, 3)]
    joined = min((_join_convex(list(threes), points, sign) for sign in (1, -1)), key=len)
    return tuple(_corners(points[piece]) for piece in joined)


@dataclass(frozen=True, eq=False)
class Rings:
    """Many closed polygons, counter-clockwise, in one array.

    Attributes
    ----------
    points
        Their corners one after the other, shape (n, 2).
    starts
        The index of each polygon's first corner.
    """

    points: Points
    starts: NDArray[np.intp]

    @cached_property
    def counts(self) -> NDArray[np.intp]:
        """The number of corners of each."""
        return np.concatenate([self.starts[1:], [len(self.points)]]) - self.starts

    @cached_property
    def following(self) -> NDArray[np.intp]:
        """For each corner the index of the next one round its polygon."""
        following = np.arange(1, len(self.points) + 1)
        following[self.starts + self.counts - 1] = self.starts
        return following

    @cached_property
    def edges(self) -> Points:
        """For each corner the way to the next one."""
        return np.asarray(self.points[self.following] - self.points)

    def chosen(self, which: NDArray[np.bool_]) -> "Rings":
        """Keep some of them."""
        counts = self.counts[which]
        return Rings(self.points[np.repeat(which, self.counts)], np.cumsum(counts) - counts)

    def polygons(self) -> NDArray[np.object_]:
        """Make shapely polygons of them."""
        owner = np.repeat(np.arange(len(self.starts)), self.counts)
        return np.asarray(shapely.polygons(shapely.linearrings(self.points, indices=owner)))


def minkowski_sums(ps: Sequence[Points], qs: Sequence[Points]) -> Rings:
    """Sum each convex polygon of the one list with each of the other: their edges in order of direction.

    Examples
    --------
    >>> square = np.array([[0.0, 0], [1, 0], [1, 1], [0, 1]])
    >>> minkowski_sums([square], [square * 2]).points.tolist()
    [[0.0, 0.0], [3.0, 0.0], [3.0, 3.0], [0.0, 3.0]]
    """
    fans_p, fans_q = [_Fan.of(p) for p in ps], [_Fan.of(q) for q in qs]
    pairs = [(p, q) for p in fans_p for q in fans_q]
    counts = [len(p.angles) + len(q.angles) for p, q in pairs]
    owner = np.repeat(np.arange(len(pairs)), counts)
    angles = np.concatenate([fan.angles for pair in pairs for fan in pair])
    order = np.lexsort((angles, owner))
    angles, edges = angles[order], np.concatenate([fan.edges for pair in pairs for fan in pair])[order]
    ends = np.cumsum(edges, axis=0)
    starts = np.cumsum([0, *counts[:-1]])
    first = np.array([p.lowest + q.lowest for p, q in pairs]) - (ends[starts] - edges[starts])
    corners = ends - edges + first[owner]
    bent = np.ones(len(angles), bool)
    bent[1:] = angles[1:] - angles[:-1] > _STRAIGHT
    bent[starts] = True
    return Rings(corners[bent], np.searchsorted(owner[bent], np.arange(len(pairs))))


@dataclass(frozen=True, slots=True)
class _Fan:
    """A convex polygon as its lowest corner and its edges in order of direction, from 0 to a full turn."""

    lowest: Points
    edges: Points
    angles: NDArray[np.float64]

    @classmethod
    def of(cls, p: Points) -> "_Fan":
        edges = np.concatenate([p[1:], p[:1]]) - p
        angles = np.arctan2(edges[:, 1], edges[:, 0]) % (2 * math.pi)
        return cls(p[np.lexsort((p[:, 0], p[:, 1]))[0]], edges, angles)


def grown(rings: Rings, distance: float, tolerance: float) -> Rings:
    """Grow convex polygons so that they hold every point within `distance`.

    Every side moves out by exactly `distance`; a round corner becomes tangents of it that stand
    out by at most `tolerance`, so a grown polygon never falls short.

    Examples
    --------
    >>> square = Rings(np.array([[0.0, 0], [10, 0], [10, 10], [0, 10]]), np.array([0]))
    >>> grown(square, 3, 0.01).polygons()[0].bounds
    (-3.0, -3.0, 13.0, 13.0)
    """
    if distance == 0:
        return rings
    leaving = np.arctan2(rings.edges[:, 1], rings.edges[:, 0]) - math.pi / 2
    arriving = np.empty_like(leaving)
    arriving[rings.following] = leaving
    bends = (leaving - arriving) % (2 * math.pi)
    bends[bends > math.pi + 1e-6] = 0.0  # straight on, but for the last digit
    step = 2 * math.acos(distance / (distance + tolerance))
    counts = np.maximum(np.ceil(bends / step - 1e-9).astype(int), 1)
    first = np.cumsum(counts) - counts
    corner = np.repeat(np.arange(len(leaving)), counts)
    part = (bends / counts)[corner]
    angle = arriving[corner] + part * (np.arange(len(corner)) - first[corner] + 0.5)
    reach = distance / np.cos(part / 2)
    out = np.column_stack([np.cos(angle), np.sin(angle)]) * reach[:, None]
    return Rings(rings.points[corner] + out, first[rings.starts])


def shrunk(rings: Rings, distance: float) -> NDArray[np.object_]:
    """Make shapely polygons with every side moved in by `distance`; empty where nothing is left.

    Examples
    --------
    >>> square = Rings(np.array([[0.0, 0], [10, 0], [10, 10], [0, 10]]), np.array([0]))
    >>> shrunk(square, 3)[0].bounds
    (3.0, 3.0, 7.0, 7.0)
    """
    lengths = np.hypot(*rings.edges.T)
    along = rings.edges / lengths[:, None]
    before = np.empty_like(along)
    before[rings.following] = along
    bend = 1 + np.einsum("ij,ij->i", before, along)
    spare = (before[:, 0] * along[:, 1] - before[:, 1] * along[:, 0]) / bend
    kept = lengths > distance * (spare + spare[rings.following]) + _LEAST_MM
    inward = np.column_stack([-before[:, 1] - along[:, 1], before[:, 0] + along[:, 0]]) / bend[:, None]
    found = Rings(rings.points + distance * inward, rings.starts).polygons()
    losing = ~np.logical_and.reduceat(kept, rings.starts)
    if losing.any():
        found[losing] = shapely.buffer(rings.polygons()[losing], -distance, join_style="mitre")
    return found


def _counter_clockwise(ring: Points) -> Points:
    (ax, ay), (bx, by), (cx, cy) = ring
    return ring if (bx - ax) * (cy - ay) >= (by - ay) * (cx - ax) else ring[::-1]


def _corners(ring: Points) -> Points:
    """Drop repeated and straight-on points; run counter-clockwise."""
    x, y = ring[:, 0], ring[:, 1]
    if np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y) < 0:
        ring = ring[::-1]
    ring = ring[np.any(ring != np.roll(ring, 1, axis=0), axis=1)]
    bent = np.abs(_bends(ring)) > _STRAIGHT
    return ring[bent] if bent.sum() > 2 else ring


def _bends(ring: Points) -> Points:
    """Sine of the bend at each corner, positive to the left."""
    before, after = ring - np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0) - ring
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    return np.asarray(cross / (np.hypot(*before.T) * np.hypot(*after.T)))


def _is_convex(ring: Points) -> bool:
    return bool(np.all(_bends(ring) > -_STRAIGHT))


def _join_convex(pieces: list[list[int]], points: Points, sign: int) -> list[list[int]]:
    """Take out inner edges, the shortest (sign 1) or longest first, where the joined piece stays convex."""
    owner = {edge: k for k, piece in enumerate(pieces) for edge in _sides(piece)}
    inner = [(u, v) for u, v in owner if u < v and (v, u) in owner]
    inner.sort(key=lambda e: (sign * math.dist(points[e[0]], points[e[1]]), e))
    for u, v in inner:
        a, b = owner[u, v], owner[v, u]
        first, second = _started(pieces[a], v), _started(pieces[b], u)
        joined = first + second[1:-1]
        if (
            a != b
            and _bends_left(points, first[-2], u, second[1])
            and _bends_left(points, second[-2], v, first[1])
        ):
            pieces[a], pieces[b] = joined, []
            owner.update(dict.fromkeys(_sides(joined), a))
    return [piece for piece in pieces if piece]


def _sides(piece: list[int]) -> list[tuple[int, int]]:
    return list(zip(piece, piece[1:] + piece[:1], strict=True))


def _started(piece: list[int], first: int) -> list[int]:
    """Rotate a ring so that it starts at `first`."""
    k = piece.index(first)
    return piece[k:] + piece[:k]


def _bends_left(points: Points, i: int, j: int, k: int) -> bool:
    (ax, ay), (bx, by), (cx, cy) = points[i], points[j], points[k]
    cross = (bx - ax) * (cy - by) - (by - ay) * (cx - bx)
    return bool(cross >= -_STRAIGHT * math.hypot(bx - ax, by - ay) * math.hypot(cx - bx, cy - by))
