"""What becomes of pictures in drawings: their outlines there, or upright pictures of what is seen."""

from collections.abc import Iterator

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from nesting.geometry.contour import Contour
from nesting.geometry.drawing import Shape
from nesting.geometry.inlay import Inlay
from nesting.geometry.inside import as_contours, inside
from nesting.geometry.picture import Picture

Floats = NDArray[np.float64]
Box = tuple[float, float, float, float]

FINE_MM = 0.005
"""Arcs of clips and outlines are flattened to this."""

FINER = 4
"""A picture that is turned or stretched gets so many times its pixels at the most."""

_ROWS = 256
_UNTURNED = (1.0, 0.0, 0.0, 1.0)


def seen(inlay: Inlay) -> BaseGeometry:
    """Give the area of the drawing in which a picture is seen."""
    w, h = inlay.picture.width, inlay.picture.height
    frame = shapely.Polygon(_placed(inlay, np.array([(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)])))
    return frame & inside(inlay.clip, "evenodd", FINE_MM) if inlay.clip else frame


def outlines_there(inlay: Inlay, shape: Shape) -> Shape | None:
    """Bring outlines found in a picture into the drawing; None if none of them is seen."""
    rings = [Contour.polyline(_placed(inlay, c.flattened(FINE_MM)).tolist()) for c in shape.contours]
    if inlay.clip:
        rings = list(_clipped(rings, shape, inside(inlay.clip, "evenodd", FINE_MM)))
    return Shape(tuple(rings), filled=True, stroked=False, rule="evenodd") if rings else None


def upright(inlay: Inlay, hidden: BaseGeometry) -> tuple[Picture, float, float] | None:
    """Make a picture of what is seen of a picture, its rows along x, white where it is `hidden`.

    Returns
    -------
    The picture and where in the drawing its lower left corner lies; None if none of it is seen.
    """
    picture, area = inlay.picture, seen(inlay) - hidden
    if area.area <= 0:
        return None
    a, b, c, d, e, f = inlay.place
    if (a, b, c, d) == _UNTURNED and area.equals(shapely.box(e, f, e + picture.width, f + picture.height)):
        return picture, e, f
    x0, y0, x1, y1 = area.bounds
    pixel = min(picture.width / picture.columns, picture.height / picture.rows)
    most = FINER * picture.columns * picture.rows
    pixel = max(pixel, ((x1 - x0) * (y1 - y0) / most) ** 0.5)
    columns, rows = (max(1, round(length / pixel)) for length in (x1 - x0, y1 - y0))
    dark = _sampled(inlay, area, columns, rows)
    grey = (255 * (1 - dark[::-1])).round().astype(np.uint8)
    return Picture.of(grey, x1 - x0, y1 - y0), x0, y0


def _placed(inlay: Inlay, points: Floats) -> Floats:
    a, b, c, d, e, f = inlay.place
    return np.asarray(points @ np.array([[a, b], [c, d]]) + (e, f))


def _clipped(rings: list[Contour], shape: Shape, area: BaseGeometry) -> Iterator[Contour]:
    """Cut rings one by one: what is inside an odd number of them still is when each is cut."""
    if shape.rule != "evenodd":
        yield from as_contours(inside(rings, shape.rule, FINE_MM) & area, 0.0)
        return
    shapely.prepare(area)
    polygons = np.array([shapely.Polygon(ring.points) for ring in rings])
    for ring, polygon, is_whole in zip(rings, polygons, shapely.covers(area, polygons), strict=True):
        if is_whole:
            yield ring
        elif shapely.intersects(area, polygon):
            yield from as_contours(area & shapely.make_valid(polygon), 0.0)


def _sampled(inlay: Inlay, area: BaseGeometry, columns: int, rows: int) -> Floats:
    """Sample the darkness at the middles of the cells of a grid over an area, the bottom row first."""
    a, b, c, d, e, f = inlay.place
    picture = inlay.picture
    back = np.linalg.inv(np.array([[a, b], [c, d]]))
    cells = picture.columns / picture.width, picture.rows / picture.height
    source, found = picture.darkness, np.zeros((rows, columns))
    shapely.prepare(area)
    x0, y0, x1, y1 = area.bounds
    x = x0 + (np.arange(columns) + 0.5) * (x1 - x0) / columns
    for first in range(0, rows, _ROWS):
        y = y0 + (np.arange(first, min(first + _ROWS, rows)) + 0.5) * (y1 - y0) / rows
        places = np.stack(np.meshgrid(x, y), axis=-1)
        there = shapely.contains_xy(area, places[..., 0], places[..., 1])
        found[first : first + _ROWS] = there * _linear(source, (places - (e, f)) @ back * cells - 0.5)
    return found


def _linear(values: Floats, at: Floats) -> Floats:
    """Interpolate between the cells of a grid, at (column, row) pairs; beyond its edge it goes on."""
    rows, columns = values.shape
    x, y = np.clip(at[..., 0], 0, columns - 1), np.clip(at[..., 1], 0, rows - 1)
    left, low = np.minimum(x.astype(int), max(columns - 2, 0)), np.minimum(y.astype(int), max(rows - 2, 0))
    right, high = np.minimum(left + 1, columns - 1), np.minimum(low + 1, rows - 1)
    u, v = x - left, y - low
    below = values[low, left] * (1 - u) + values[low, right] * u
    above = values[high, left] * (1 - u) + values[high, right] * u
    return np.asarray(below * (1 - v) + above * v)
