"""Makes sweeps of a picture: its greys become dots as large as the interval, a row a sweep."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from nesting.geometry.contour import Contour
from nesting.geometry.drawing import Shape
from nesting.job.job import Dither, Dots

Floats = NDArray[np.float64]
Marks = NDArray[np.bool_]

MOST_DOTS = 30_000_000
"""No picture is made of more dots."""

MOST_SWEEPS = 400_000
"""No picture is made of more sweeps: a plan has to hold them."""


def frame(dots: Dots) -> Shape:
    """Draw the edge of a picture, which is what is put into a mark area."""
    w, h = dots.picture.width, dots.picture.height
    return Shape((Contour.polyline([(0, 0), (w, 0), (w, h), (0, h)]).moved(dots.x, dots.y),))


def dot_sweeps(dots: Dots, scale: float, interval: float) -> Floats:
    """Sweep a picture made `scale` times as large, with rows `interval` mm apart.

    Returns
    -------
    ``(x0, y0, x1, y1)`` in mm for each sweep, from the picture's lower left corner, every other row
    with a mark in it backwards; shape (n, 4).

    Raises
    ------
    ValueError
        If that makes too many dots or sweeps.
    """
    picture = dots.picture
    size = picture.width * scale, picture.height * scale
    columns, rows = columns_and_rows(*size, interval)
    return runs_of(dots, averaged(picture.darkness, columns, rows), size, interval)


def refuse_many(pictures: Sequence[Dots], scale: float, interval: float) -> None:
    """Refuse pictures that are too many dots together.

    Raises
    ------
    ValueError
        If that is so.
    """
    sizes = [(each.picture.width * scale, each.picture.height * scale) for each in pictures]
    if (
        sum(columns * rows for columns, rows in (columns_and_rows(*size, interval) for size in sizes))
        > MOST_DOTS
    ):
        raise ValueError(f"its pictures are too many dots; allowed: up to {MOST_DOTS:,} in all")


def columns_and_rows(wide: float, high: float, interval: float) -> tuple[int, int]:
    """Count the dots of a picture so many mm wide and high.

    Raises
    ------
    ValueError
        If that are too many.
    """
    columns, rows = max(1, round(wide / interval)), max(1, round(high / interval))
    if columns * rows > MOST_DOTS:
        raise ValueError(
            f"a picture of {columns} x {rows} dots at an interval of {interval:g} mm; "
            f"allowed: up to {MOST_DOTS:,} dots"
        )
    return columns, rows


def runs_of(dots: Dots, darkness: Floats, size: tuple[float, float], interval: float) -> Floats:
    """Sweep cells so dark, shape (rows, columns), on an area of a size in mm; see `dot_sweeps`."""
    (rows, columns), (wide, high) = darkness.shape, size
    marks = dither(darkness, dots.dither, dots.threshold)
    heights = (high - (rows - 1) * interval) / 2 + interval * np.arange(rows, dtype=np.float64)
    sweeps = _runs(marks, wide / columns, heights)
    if len(sweeps) > MOST_SWEEPS:
        raise ValueError(
            f"a picture of {len(sweeps):,} sweeps; allowed: up to {MOST_SWEEPS:,}, so make it smaller or "
            "the interval larger"
        )
    return sweeps


def averaged(values: Floats, columns: int, rows: int) -> Floats:
    """Average a grid over the cells of another grid on the same area, exactly by area.

    >>> averaged(np.array([[0.0, 1.0, 1.0]]), 2, 1).tolist()
    [[0.3333333333333333, 1.0]]
    """
    return _averaged_rows(_averaged_rows(values, rows).T, columns).T


def _averaged_rows(values: Floats, count: int) -> Floats:
    """Average along the first axis: differences of the integral, which is linear between the rows."""
    size = len(values)
    integral = np.concatenate([np.zeros((1, values.shape[1])), np.cumsum(values, axis=0)])
    at = np.arange(count + 1) * (size / count)
    whole = np.minimum(at.astype(np.int64), size - 1)
    there = integral[whole] + (at - whole)[:, None] * values[whole]
    return np.asarray(np.diff(there, axis=0) * (count / size))


def dither(darkness: Floats, how: Dither, threshold: float) -> Marks:
    """Choose which cells are marked, so that as much is marked as is dark.

    Parameters
    ----------
    darkness
        From 0 (white) to 1 (black), shape (rows, columns).
    how
        ``"threshold"``: what is darker than `threshold`. ``"ordered"``: what is darker than a pattern
        of 8 x 8 steps (Bayer 1973). ``"diffusion"``: the error goes to the neighbours in shares of 7, 3,
        5 and 1 sixteenths (Floyd and Steinberg 1976).
    """
    if how == "threshold":
        return np.asarray(darkness > threshold)
    if how == "ordered":
        rows, columns = darkness.shape
        pattern = np.tile(_pattern(3), (-(-rows // 8), -(-columns // 8)))
        return np.asarray(darkness > pattern[:rows, :columns])
    return _diffused(darkness)


def _pattern(levels: int) -> Floats:
    """Make the ordered pattern of side ``2 ** levels``, its steps in the middle of equal shares of 0 to 1."""
    pattern = np.zeros((1, 1))
    for _ in range(levels):
        pattern = np.block([[4 * pattern, 4 * pattern + 2], [4 * pattern + 3, 4 * pattern + 1]])
    return np.asarray((pattern + 0.5) / pattern.size)


def _diffused(darkness: Floats) -> Marks:
    """Diffuse errors along slanted fronts: cells with equal ``column + 2 row`` do not touch each other."""
    rows, columns = darkness.shape
    value = np.zeros((rows + 1, columns + 2))
    value[:rows, 1:-1] = darkness
    marks = np.zeros((rows, columns), dtype=bool)
    for front in range(columns + 2 * rows - 2):
        first, stop = max(0, -(-(front - columns + 1) // 2)), min(rows - 1, front // 2) + 1
        row = np.arange(first, stop)
        column = front - 2 * row
        here = value[row, column + 1]
        marked = here > 0.5
        marks[row, column] = marked
        error = (here - marked) / 16
        # within one front no two cells hand on to the same neighbour, so plain indexing adds up
        value[row, column + 2] += 7 * error
        value[row + 1, column] += 3 * error
        value[row + 1, column + 1] += 5 * error
        value[row + 1, column + 2] += error
    return marks


def _runs(marks: Marks, pitch: float, heights: Floats) -> Floats:
    """Join neighbouring dots of a row into one sweep, every other used row backwards."""
    edges = np.diff(np.pad(marks, ((0, 0), (1, 1))).astype(np.int8), axis=1)
    row, begin = np.nonzero(edges == 1)
    _, end = np.nonzero(edges == -1)
    _, used = np.unique(row, return_inverse=True)
    back = used % 2 == 1
    x0, x1 = np.where(back, end, begin) * pitch, np.where(back, begin, end) * pitch
    order = np.lexsort((np.where(back, -x0, x0), row))
    y = heights[row]
    return np.column_stack([x0, y, x1, y])[order]
