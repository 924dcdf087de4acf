"""Cuts artwork off at the outline of an area: fills, lines and sweeps."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from nesting.artwork.room import FINE_MM, TINY_MM
from nesting.geometry.contour import Contour
from nesting.geometry.drawing import Shape
from nesting.geometry.inside import as_contours, inside

Floats = NDArray[np.float64]

_LINE = 1
"""Shapely's number of the type LineString."""

_TOUCH = 0.1
"""What runs along the outline for less than this share of the extent is no line that was drawn there."""


@dataclass(frozen=True)
class Cutting:
    """An area; what lies in it whole is kept as it is, true arcs included.

    Examples
    --------
    >>> square = Contour.polyline([(0, 0), (4, 0), (4, 4), (0, 4)])
    >>> cutting = Cutting(shapely.box(1, -1, 3, 9))
    >>> [shape.contours[0].bounds for shape in cutting.shapes(Shape((square,), filled=True, stroked=False))]
    [(1.0, 0.0, 3.0, 4.0)]
    >>> [len(shape.contours) for shape in cutting.shapes(Shape((square,)))]
    [2]
    """

    area: BaseGeometry

    def shapes(self, shape: Shape) -> Iterator[Shape]:
        """Cut a shape: first what is left of its inside, then what is left of its lines."""
        if all(self._holds(contour) for contour in shape.contours):
            yield shape
            return
        if shape.filled and (outlines := self._outlines(shape)):
            yield replace(shape, contours=outlines, stroked=False, rule="evenodd")
        if shape.stroked and (lines := tuple(line for c in shape.contours for line in self._lines(c))):
            yield replace(shape, contours=lines, filled=False)

    def pieces(self, frame: Contour, sweeps: Floats) -> Iterator[tuple[Contour, Floats]]:
        """Cut the frame of a picture and its sweeps, shape (n, 4): each piece with the sweeps in it."""
        for piece in shapely.get_parts(shapely.intersection(self.area, shapely.Polygon(frame.points))):
            if piece.area > 0:
                yield Contour.polyline(shapely.get_coordinates(piece.exterior)[:-1]), _kept(sweeps, piece)

    def _holds(self, contour: Contour) -> bool:
        hull = shapely.MultiPoint(contour.flattened(FINE_MM)).convex_hull
        return bool(shapely.covers(self.area, hull))

    def _outlines(self, shape: Shape) -> tuple[Contour, ...]:
        return as_contours(inside(shape.contours, shape.rule, FINE_MM) & self.area, TINY_MM)

    def _lines(self, contour: Contour) -> Iterator[Contour]:
        if self._holds(contour):
            yield contour
            return
        points = contour.flattened(FINE_MM)
        course = np.vstack([points, points[:1]]) if contour.closed else points
        # a line along the very outline would stay or go by rounding
        area = self.area.buffer(TINY_MM, join_style="mitre")
        for stretch in _joined(_kept(np.hstack([course[:-1], course[1:]]), area), closed=contour.closed):
            if self._only_touches(stretch):
                continue
            whole = contour.closed and _meet(stretch[-1], stretch[0])
            yield Contour.polyline(stretch[: len(stretch) - whole].tolist(), closed=whole)

    def _only_touches(self, stretch: Floats) -> bool:
        """Tell whether a short stretch is the chord of a curved outline that the line only meets."""
        x0, y0, x1, y1 = self.area.bounds
        line = shapely.LineString(stretch)
        short = line.length < _TOUCH * max(x1 - x0, y1 - y0)
        return bool(short and shapely.covers(shapely.buffer(self.area.boundary, FINE_MM), line))


def _kept(lines: Floats, area: BaseGeometry) -> Floats:
    """Cut lines ``(x0, y0, x1, y1)`` one by one, so that they keep their order and direction."""
    shapely.prepare(area)
    found, of = shapely.get_parts(
        shapely.intersection(shapely.linestrings(lines.reshape(-1, 2, 2)), area), return_index=True
    )
    there = (shapely.get_type_id(found) == _LINE) & (shapely.length(found) > TINY_MM)
    found, of = found[there], of[there]
    if not len(found):
        return np.zeros((0, 4))
    starts, ends = (shapely.get_coordinates(shapely.get_point(found, k)) for k in (0, -1))
    origin, along = lines[of, :2], lines[of, 2:] - lines[of, :2]
    first, last = (((points - origin) * along).sum(axis=1) for points in (starts, ends))
    back = (first > last)[:, None]
    cut = np.hstack([np.where(back, ends, starts), np.where(back, starts, ends)])
    return np.asarray(cut[np.lexsort((np.minimum(first, last), of))])


def _joined(lines: Floats, *, closed: bool) -> list[Floats]:
    """Join lines of which one begins where the one before it ends; in a closed course the last and first."""
    stretches: list[list[Floats]] = []
    for line in lines:
        if stretches and _meet(stretches[-1][-1], line[:2]):
            stretches[-1].append(line[2:])
        else:
            stretches.append([line[:2], line[2:]])
    if closed and len(stretches) > 1 and _meet(stretches[-1][-1], stretches[0][0]):
        stretches[0] = stretches.pop() + stretches[0][1:]
    return [np.array(stretch) for stretch in stretches]


def _meet(a: Floats, b: Floats) -> bool:
    return bool(np.abs(a - b).max() <= TINY_MM)
