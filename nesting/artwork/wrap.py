"""Wraps artwork round a body: what is drawn flat lies along its surface with the measures it is drawn with.

The beam comes from above, so the artwork is narrowed by as much as the surface leans away. Areas are swept
after that: sweeps stay straight, and an interval is the distance of two sweeps as seen from above.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import product

import numpy as np
import shapely
from numpy.typing import NDArray

from nesting.artwork.dots import Floats, columns_and_rows, frame, runs_of
from nesting.artwork.place import Placing
from nesting.body.unrolled import FINE_MM, Unrolled, unrolled
from nesting.geometry.contour import Contour, cos_sin
from nesting.geometry.drawing import Shape
from nesting.geometry.region import Region
from nesting.job.job import Blank, Dots

_SAMPLES = 3
_AT_ONCE = 500_000


@dataclass(frozen=True)
class Wrapping:
    """The side of a body that is marked, and the room for artwork on it, laid flat."""

    side: Unrolled
    room: Region

    def shape(self, shape: Shape) -> Shape:
        """Bring a shape that lies flat onto the body, as seen from above."""
        return replace(shape, contours=tuple(map(self.contour, shape.contours)))

    def contour(self, contour: Contour) -> Contour:
        """Bring a contour that lies flat onto the body: lines no further off than 3 `FINE_MM`."""
        flat = contour.flattened(FINE_MM)
        line = shapely.LineString(np.vstack([flat, flat[:1]]) if contour.closed else flat)
        # a chord this long strays from its arc round the body by FINE_MM
        step = math.sqrt(8 * FINE_MM * self.side.least_radius)
        places = self.side.seen(shapely.get_coordinates(line.segmentize(step)))
        kept = shapely.get_coordinates(shapely.LineString(places).simplify(FINE_MM))
        return Contour.polyline(kept[:-1] if contour.closed else kept, closed=contour.closed)

    def dots(self, dots: Dots, placing: Placing, interval: float) -> NDArray[np.float64]:
        """Sweep a picture that lies round the body, its rows `interval` mm apart as seen from above.

        Returns
        -------
        ``(x0, y0, x1, y1)`` in mm for each sweep in the blank's coordinates; shape (n, 4).

        Raises
        ------
        ValueError
            If that makes too many dots or sweeps.
        """
        size, shades = (dots.picture.width, dots.picture.height), dots.picture.darkness
        (edge,) = placing.shape(frame(dots)).contours
        c, s = cos_sin(placing.turn)
        turned = np.array([[c, s], [-s, c]])
        places = self.contour(edge).points @ turned.T
        low, (wide, high) = places.min(axis=0), np.ptp(places, axis=0).tolist()
        counts = columns_and_rows(wide, high, interval)

        def dark(cells: Floats) -> Floats:
            flat = self.side.flat((cells * (wide, high) + low) @ turned)
            return _sampled(shades, size, placing.back(flat) - (dots.x, dots.y))

        sweeps = runs_of(dots, _averaged(dark, *counts), (wide, high), interval)
        return np.asarray(((sweeps.reshape(-1, 2) + low) @ turned).reshape(-1, 4))


@lru_cache(maxsize=256)
def wrapping_of(blank: Blank, thickness: float) -> Wrapping | None:
    """Lay a blank's mark area flat; None for a flat blank.

    Raises
    ------
    ValueError
        If that cannot be done: see `nesting.body.unrolled.unrolled`.
    """
    if blank.solid is None:
        return None
    return Wrapping(*unrolled(blank.solid, blank.mark_area, blank.most_incidence, thickness))


def _averaged(dark: Callable[[Floats], Floats], columns: int, rows: int) -> Floats:
    """Average a shade, of places in a square of side 1, over the cells of a grid, by samples."""
    found = np.zeros((rows, columns))
    shares = (np.arange(_SAMPLES) + 0.5) / _SAMPLES
    band = max(1, _AT_ONCE // columns)
    for first in range(0, rows, band):
        row = np.arange(first, min(first + band, rows))
        for dx, dy in product(shares, shares):
            x, y = np.meshgrid((np.arange(columns) + dx) / columns, (row + dy) / rows)
            shade = dark(np.column_stack([x.ravel(), y.ravel()]))
            found[row] += shade.reshape(len(row), columns) / _SAMPLES**2
    return found


def _sampled(shades: Floats, size: tuple[float, float], places: Floats) -> Floats:
    """Look up how dark a picture of a size in mm is at places; 0 beside it."""
    high, wide = shades.shape
    cell = np.floor(np.nan_to_num(places, nan=-1.0) / (size[0] / wide, size[1] / high))
    inside = ((cell >= 0) & (cell < (wide, high))).all(axis=1)
    column, row = np.where(inside[:, None], cell, 0).astype(np.int64).T
    return np.where(inside, shades[row, column], 0.0)
