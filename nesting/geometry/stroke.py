"""Lines with a width become outlines: what the pen covers, with its ends and corners."""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from nesting.geometry.contour import Arc, Contour
from nesting.geometry.drawing import Drawing, Pen, Shape
from nesting.geometry.inside import as_contours, inside, refuse_tangle

Floats = NDArray[np.float64]

SAME_MM = 1e-9
COARSEST_MM = 0.01
FINEST_SHARE = 1e-4
"""Tolerance as a share of a small drawing's larger side."""

MOST_BEND = math.pi / 2
"""A strip turns by no more, so that it cannot reach itself again."""


def outlined(drawing: Drawing, tolerance: float | None = None) -> Drawing:
    """Turn every line of a drawing into the outline of what it covers, to be filled.

    A shape that is filled and has a line becomes one area, so that nothing is marked twice.

    Parameters
    ----------
    tolerance
        Largest distance in mm between the outline and the true one; left out: 0.01 mm, and less for a
        drawing less than 100 mm wide and high, 1/10 000 of its larger side, since it may yet be enlarged.

    Raises
    ------
    TangleError
        If lines cross each other too often.

    Examples
    --------
    >>> line = Shape((Contour.polyline([(0, 0), (10, 0)], closed=False),), width=2)
    >>> (shape,) = outlined(Drawing(10, 10, (line,))).shapes
    >>> shape.filled, shape.stroked, abs(shape.contours[0].area)
    (True, False, 20.0)
    """
    if tolerance is None:
        tolerance = min(COARSEST_MM, FINEST_SHARE * max(drawing.width, drawing.height))
    shapes = (shape if _is_plain(shape) else _outlined(shape, tolerance) for shape in drawing.shapes)
    return replace(drawing, shapes=tuple(shape for shape in shapes if shape.contours))


def covered(shape: Shape, tolerance: float) -> BaseGeometry:
    """Give the area that a shape's line covers, its inside left out."""
    pieces = [piece for contour in shape.contours for piece in _pieces(contour, shape, tolerance)]
    if not pieces:
        return shapely.Polygon()
    polygons = np.array(pieces, dtype=object)
    refuse_tangle(polygons)
    return shapely.transform(shapely.union_all(polygons), lambda points: points @ _nib(shape.pen))


def _is_plain(shape: Shape) -> bool:
    return not shape.stroked or shape.width <= 0


def _outlined(shape: Shape, tolerance: float) -> Shape:
    area = covered(shape, tolerance)
    if shape.filled:
        area = shapely.union(area, inside(shape.contours, shape.rule, tolerance))
    return Shape(as_contours(area, tolerance**2), filled=True, stroked=False, rule="evenodd")


def _nib(pen: Pen) -> Floats:
    """Give the pen's map as a matrix that is multiplied from the right."""
    a, b, c, d = pen.nib
    return np.array([[a, b], [c, d]])


@dataclass(frozen=True)
class _Track:
    """A line in the space in which the nib is round: corners, and each stretch's direction and length."""

    points: Floats
    closed: bool
    ahead: Floats
    lengths: Floats
    turns: Floats
    """Angle at the start of each stretch, counter-clockwise; 0 at the start of an open line."""

    @classmethod
    def of(cls, contour: Contour, nib: Floats, radius: float, tolerance: float) -> "_Track | None":
        points = contour.flattened(_finer(contour, radius, tolerance)) @ np.linalg.inv(nib)
        keep = np.hypot(*(np.roll(points, -1, axis=0) - points).T) > SAME_MM
        keep[-1] |= not contour.closed
        points = points[keep]
        if len(points) < 2:
            return None
        steps = np.diff(np.vstack([points, points[:1]]) if contour.closed else points, axis=0)
        lengths = np.hypot(*steps.T)
        ahead = steps / lengths[:, None]
        before = np.roll(ahead, 1, axis=0)
        turns = np.arctan2(_cross(before, ahead), (before * ahead).sum(axis=1))
        if not contour.closed:
            turns[0] = 0.0
        return cls(points, contour.closed, ahead, lengths, turns)

    def end(self, k: int) -> Floats:
        """Give the point where stretch k ends."""
        return np.asarray(self.points[(k + 1) % len(self.points)])


def _finer(contour: Contour, radius: float, tolerance: float) -> float:
    """Flatten arcs so that a line of half width `radius` beside them keeps the tolerance too."""
    radii = [Arc.between(a, b).radius for a, b in contour.segments if a[2]]
    return tolerance * min(r / (r + radius) for r in radii) if radii else tolerance


def _pieces(contour: Contour, shape: Shape, tolerance: float) -> Iterator[BaseGeometry]:
    """Polygons that cover a line together: strips, wedges at its corners, and caps."""
    radius, pen = shape.width / 2, shape.pen
    track = _Track.of(contour, _nib(pen), radius, tolerance)
    if track is None:
        return
    breaks = _breaks(track, radius, tolerance)
    starts = np.flatnonzero(breaks)
    count = len(track.lengths)
    for first, last in zip(starts, [*starts[1:], starts[0] + count if track.closed else count], strict=True):
        yield from _strip(track, np.arange(first, last) % count, radius)
    for k in starts:
        if k > 0 or track.closed:
            wedge = _wedge(track, int(k), radius, pen, tolerance)
            if len(wedge) > 2:
                yield shapely.Polygon(wedge)
    if not track.closed and pen.cap != "butt":
        yield _cap(track.points[0], -track.ahead[0], radius, pen, tolerance)
        yield _cap(track.points[-1], track.ahead[-1], radius, pen, tolerance)


def _breaks(track: _Track, radius: float, tolerance: float) -> NDArray[np.bool_]:
    """Tell at which stretches a new strip starts: at corners, and where the strip has bent enough."""
    half = np.minimum(np.abs(track.turns) / 2, 1.5)
    before = np.roll(track.lengths, 1)
    out = radius * (1 / np.cos(half) - 1) > tolerance / 2
    breaks = out | (radius * np.tan(half) > np.minimum(before, track.lengths) / 2)
    breaks[0] = True
    bend = 0.0
    for k, turn in enumerate(np.abs(track.turns).tolist()):
        bend = 0.0 if breaks[k] else bend + turn
        if bend > MOST_BEND:
            breaks[k], bend = True, 0.0
    return np.asarray(breaks)


def _strip(track: _Track, stretches: NDArray[np.intp], radius: float) -> Iterator[BaseGeometry]:
    """Cover stretches that bend gently: one polygon along both sides of them."""
    left = _left(track.ahead[stretches]) * radius
    points = track.points[stretches]
    inner = left[:-1] + left[1:]
    inner *= (2 * radius**2 / np.maximum((inner**2).sum(axis=1), 1e-300))[:, None]
    offsets = np.vstack([left[:1], inner, left[-1:]])
    middle = np.vstack([points, track.end(int(stretches[-1]))])
    strip = shapely.Polygon(np.vstack([middle + offsets, (middle - offsets)[::-1]]))
    if strip.is_valid:
        yield strip
        return
    for k, side in zip(stretches, left, strict=True):
        a, b = track.points[k], track.end(int(k))
        yield shapely.Polygon(np.vstack([a + side, a - side, b - side, b + side]))


def _wedge(track: _Track, k: int, radius: float, pen: Pen, tolerance: float) -> Floats:
    """Fill the gap on the outside of the corner where stretch k starts."""
    corner, turn = track.points[k], float(track.turns[k])
    side = -math.copysign(radius, turn)
    a = side * _left(track.ahead[k - 1])
    b = side * _left(track.ahead[k])
    if abs(turn) < 1e-9:
        return np.empty((0, 2))
    rim = [a, b]
    if pen.join == "round":
        rim = list(_fan(a, turn, radius, tolerance))
    elif pen.join == "miter" and pen.miter * math.cos(turn / 2) >= 1:
        rim = [a, (a + b) / (2 * math.cos(turn / 2) ** 2), b]
    # from a point inside both strips, lest a gap of rounding stays along their ends
    reach = min(radius, track.lengths[k - 1], track.lengths[k]) / 4
    within = corner + reach * _unit(track.ahead[k] - track.ahead[k - 1])
    return np.vstack([within, *(corner + step for step in rim)])


def _cap(end: Floats, ahead: Floats, radius: float, pen: Pen, tolerance: float) -> BaseGeometry:
    right, out = -_left(ahead) * radius, ahead * radius
    square = np.array([right, right + out, out - right, -right])
    rim = _fan(right, math.pi, radius, tolerance) if pen.cap == "round" else square
    return shapely.Polygon(end + np.vstack([-out / 4, rim]))


def _fan(first: Floats, turn: float, radius: float, tolerance: float) -> Floats:
    """Points on a circle round (0, 0) from `first` on over an angle."""
    step = 2 * math.acos(max(1 - tolerance / radius, 0.0))
    angles = np.linspace(0, turn, max(2, math.ceil(abs(turn) / step) + 1))
    c, s = np.cos(angles), np.sin(angles)
    return np.column_stack([c * first[0] - s * first[1], s * first[0] + c * first[1]])


def _unit(step: Floats) -> Floats:
    return np.asarray(step / np.hypot(*step))


def _left(ahead: Floats) -> Floats:
    return np.stack([-ahead[..., 1], ahead[..., 0]], axis=-1)


def _cross(a: Floats, b: Floats) -> Floats:
    return np.asarray(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])
