"""Turning pieces a little where any turn is allowed: places and turns improved together, step by step.

Two convex pieces keep clear of each other if a line parts them. With a side of one of them (or, round a
corner, the way between their nearest corners) chosen for each pair nearby, small moves and turns that keep
the pieces parted are a linear programme, but for what a turn does in the second order; the exact places are
found afterwards, the turns held fast.
"""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from nesting.geometry.contour import Points, turning
from nesting.packing.compaction import OVERLAP_COST, PER_ITERATION, Compaction
from nesting.packing.filling import Spot
from nesting.packing.programme import Programme
from nesting.packing.room import Room
from nesting.packing.shapes import Shape, Shapes
from nesting.packing.squeeze import reached
from nesting.packing.stop import Stop

_LEAN, _LEAST_LEAN = 0.05, 0.0005
"""Radians that a piece may turn in one step, at first and at the least."""

_STEPS = 3
"""How often pieces that do not settle are turned and settled again."""

_PER_NOFIT = 1e-3
"""Effort of making a no-fit polygon of two pieces in turns of their own."""

_PER_PAIR = 5e-5
"""Effort of looking at two convex pieces."""


@dataclass(frozen=True, slots=True)
class _Convex:
    """A convex piece where it lies: its owner (-1: an obstacle), corners, outward normals and extent."""

    owner: int
    corners: Points
    normals: Points
    low: Points
    high: Points

    @classmethod
    def of(cls, owner: int, corners: Points) -> "_Convex":
        edges = np.roll(corners, -1, axis=0) - corners
        normals = np.column_stack([edges[:, 1], -edges[:, 0]]) / np.hypot(*edges.T)[:, None]
        return cls(owner, corners, normals, corners.min(axis=0), corners.max(axis=0))


@dataclass(frozen=True, slots=True)
class _Parting:
    """A direction in which one piece lies beyond another, the points that matter, what is to spare."""

    first: int
    second: int
    normal: Points
    here: Points
    there: Points
    spare: float


class Twisting:
    """Moves and turns the pieces of a sheet or roll a little, all at the same time."""

    def __init__(self, room: Room, shapes: Shapes) -> None:
        self.room, self.shapes = room, shapes

    def shortened(self, spots: Sequence[Spot], stop: Stop) -> list[Spot]:
        """Turn and move pieces until that makes the roll no shorter, or `stop` is reached."""
        best, lean = list(spots), _LEAN
        while lean > _LEAST_LEAN and not stop.reached:
            reach = lean * max(_radius(spot.shape) for spot in best)
            found = self._twisted(best, lean, reach, stop)
            settled = Compaction(self.room, self.shapes, found, reach).settle(stop) if found else None
            if settled is not None and reached(settled) < reached(best) - 1e-3:
                best = settled
            else:
                lean /= 2
        return best

    def settled(self, spots: Sequence[Spot], reach: float, stop: Stop) -> list[Spot] | None:
        """Find exact places from nearly right ones, turning pieces where moving them is not enough."""
        found = Compaction(self.room, self.shapes, spots, reach).settle(stop)
        turned: Sequence[Spot] | None = spots if any(is_free(spot.shape) for spot in spots) else None
        for _ in range(_STEPS):
            if found is not None or turned is None or stop.reached:
                break
            turned = self._twisted(turned, _LEAN, reach, stop)
            if turned is not None:
                found = Compaction(self.room, self.shapes, turned, reach).settle(stop)
        return found

    def _twisted(self, spots: Sequence[Spot], lean: float, reach: float, stop: Stop) -> list[Spot] | None:
        """Solve for better places and turns; None if there are none, or a piece would not fit the sheet."""
        programme = Programme()
        x0, y0, x1, y1 = self.room.extent
        roll = self.room.sheet.height is None
        end = programme.variable(0.0, math.inf, 1.0 if roll else 0.0)
        middles = np.array([_middle(spot.shape) + np.array([spot.x, spot.y]) for spot in spots])
        for k, (spot, middle) in enumerate(zip(spots, middles.tolist(), strict=True)):
            for at in middle:
                programme.variable(at - reach, at + reach)
            free = lean if is_free(spot.shape) else 0.0
            programme.variable(-free, free)
            x, y, turn = _variables(k)
            for px, py in _outermost(spot.shape, 2 * lean * _radius(spot.shape)):
                programme.row([x, turn], [1.0, -py], x0 - px)
                programme.row([x, turn], [-1.0, py], px - x1)
                programme.row([y, turn], [1.0, px], y0 - py)
                programme.row([y, turn], [-1.0, -px], py - y1)
                programme.row([y, turn, end], [-1.0, -px, 1.0], py)
        overlaps: dict[tuple[int, int], int] = {}
        for parting in self._partings(spots, reach, lean, stop):
            i, j, (nx, ny) = parting.first, parting.second, parting.normal.tolist()
            if (i, j) not in overlaps:
                overlaps[i, j] = programme.variable(0.0, math.inf, OVERLAP_COST)
            variables, factors, limit = [overlaps[i, j]], [1.0], -parting.spare
            for k, point, sign in ((i, parting.here, -1.0), (j, parting.there, 1.0)):
                if k >= 0:
                    (ax, ay), (sx, sy) = point - middles[k], middles[k]
                    variables += _variables(k)
                    factors += [sign * nx, sign * ny, sign * (ny * ax - nx * ay)]
                    limit += sign * float(nx * sx + ny * sy)
            programme.row(variables, factors, limit)
        found = programme.solve(None if stop.reproducible else stop.left)
        stop.spend(PER_ITERATION * (programme.iterations + len(overlaps)))
        if found is None:
            return None
        stop.spend(_PER_NOFIT * len(spots) ** 2 / 2)
        moved = found[1 : 1 + 3 * len(spots)].reshape(-1, 3).tolist()
        turned = [
            self._moved(spot, np.array([x, y]), by) for spot, (x, y, by) in zip(spots, moved, strict=True)
        ]
        # what just fitted may not, by what a turn does in the second order
        return turned if all(self.room.positions(spot.shape) for spot in turned) else None

    def _moved(self, spot: Spot, middle: Points, turn: float) -> Spot:
        """Turn a piece by so many radians, and put its middle somewhere."""
        shape = self.shapes.turned(spot.shape, math.degrees(turn))
        x, y = middle - _middle(spot.shape) @ turning(shape.turn - spot.shape.turn)
        return Spot(shape, float(x), float(y))

    def _partings(self, spots: Sequence[Spot], reach: float, lean: float, stop: Stop) -> Iterator[_Parting]:
        """Part all convex pieces of different owners that may come to touch within one step."""
        moves = [reach + lean * _radius(spot.shape) * is_free(spot.shape) for spot in spots]
        pieces = [
            [_Convex.of(k, piece + np.array([spot.x, spot.y])) for piece in spot.shape.pieces]
            for k, spot in enumerate(spots)
        ]
        low = np.array([np.min([piece.low for piece in whole], axis=0) for whole in pieces])
        high = np.array([np.max([piece.high for piece in whole], axis=0) for whole in pieces])
        for i in range(len(spots)):
            for j in range(i + 1, len(spots)):
                gap = max(spots[i].shape.item.gap, spots[j].shape.item.gap)
                far = gap + math.sqrt(2) * (moves[i] + moves[j])
                if np.all(low[i] < high[j] + far) and np.all(low[j] < high[i] + far):
                    yield from _parted(product(pieces[i], pieces[j]), gap, far, lean, stop)
        for obstacle in self.room.obstacles:
            still = [_Convex.of(-1, piece) for piece in obstacle.pieces]
            for j in range(len(spots)):
                near = pieces[j]
                if obstacle.around:
                    near = [_Convex.of(j, spots[j].shape.hull[0] + np.array([spots[j].x, spots[j].y]))]
                far = obstacle.gap + math.sqrt(2) * moves[j]
                yield from _parted(product(still, near), obstacle.gap, far, lean, stop)


def _parted(
    pairs: Iterable[tuple[_Convex, _Convex]], gap: float, far: float, lean: float, stop: Stop
) -> Iterator[_Parting]:
    for a, b in pairs:
        if np.all(a.low < b.high + far) and np.all(b.low < a.high + far):
            stop.spend(_PER_PAIR)
            yield from _between(a, b, gap, far, 2 * lean)


def _between(a: _Convex, b: _Convex, gap: float, far: float, lean: float) -> Iterator[_Parting]:
    """Choose the direction in which two pieces are furthest apart, and the points that matter for it."""
    from_a = a.normals @ b.corners.T - np.einsum("ij,ij->i", a.normals, a.corners)[:, None]
    from_b = b.normals @ a.corners.T - np.einsum("ij,ij->i", b.normals, b.corners)[:, None]
    best_a, best_b = from_a.min(axis=1), from_b.min(axis=1)
    k, m = int(best_a.argmax()), int(best_b.argmax())
    apart = max(best_a[k], best_b[m])
    if apart > far:
        return
    if gap:
        ways = b.corners[None] - a.corners[:, None]
        lengths = np.hypot(ways[..., 0], ways[..., 1])
        p, q = np.unravel_index(int(lengths.argmin()), lengths.shape)
        normal = ways[p, q] / max(lengths[p, q], 1e-12)
        beyond = (b.corners @ normal).min() - (a.corners @ normal).max()
        if beyond > apart + 1e-9:
            yield _Parting(a.owner, b.owner, normal, a.corners[p], b.corners[q], beyond - gap)
            return
    if best_a[k] >= best_b[m]:
        for corner in b.corners[from_a[k] < apart + lean * _across(b)]:
            spare = float((corner - a.corners[k]) @ a.normals[k])
            yield _Parting(a.owner, b.owner, a.normals[k], corner, corner, spare - gap)
    else:
        for corner in a.corners[from_b[m] < apart + lean * _across(a)]:
            spare = float((corner - b.corners[m]) @ b.normals[m])
            yield _Parting(a.owner, b.owner, -b.normals[m], corner, corner, spare - gap)


def is_free(shape: Shape) -> bool:
    """Tell whether a shape may take any turn, and its turn matters."""
    return shape.item.turns == "any" and not shape.item.footprint.is_circle and shape.item.edge is None


def as_tried(spots: Sequence[Spot], shapes: Shapes) -> list[Spot]:
    """Put pieces that have been turned in the nearest ways that are tried for all, their middles kept."""
    found = []
    for spot in spots:
        way = shapes.nearest(spot.shape)
        x, y = _middle(spot.shape) - _middle(way) if way is not spot.shape else np.zeros(2)
        found.append(Spot(way, spot.x + float(x), spot.y + float(y)))
    return found


def _variables(k: int) -> list[int]:
    """Numbers of the variables of a piece: its place and its turn; the end of the roll comes first."""
    return [1 + 3 * k, 2 + 3 * k, 3 + 3 * k]


def _middle(shape: Shape) -> Points:
    """Give the middle of a shape's extent, round which it is turned."""
    a, b, c, d = shape.bounds
    return np.array([(a + c) / 2, (b + d) / 2], np.float64)


def _radius(shape: Shape) -> float:
    """How far a shape reaches from its middle, at the most."""
    a, b, c, d = shape.bounds
    return math.hypot(c - a, d - b) / 2


def _across(piece: _Convex) -> float:
    return float(np.hypot(*(piece.high - piece.low)))


def _outermost(shape: Shape, play: float) -> list[tuple[float, float]]:
    """Give the corners, seen from the middle, that are furthest out or may come to be by a small turn."""
    a, b, c, d = shape.bounds
    wide, high = (c - a) / 2, (d - b) / 2
    if not is_free(shape):
        return [(-wide, -high), (wide, high)]
    corners = shape.hull[0] - _middle(shape)
    out = (np.abs(corners[:, 0]) > wide - play) | (np.abs(corners[:, 1]) > high - play)
    return [(float(px), float(py)) for px, py in corners[out]]
