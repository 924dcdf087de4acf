"""Finds the outlines of what is dark in a picture, between the pixels."""

from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from nesting.geometry.contour import Contour
from nesting.geometry.drawing import Drawing, Shape
from nesting.geometry.picture import Picture
from nesting.ports import Tracing

Floats = NDArray[np.float64]

MOST_STEPS = 1_000_000
"""Outlines pass between no more pairs of neighbouring pixels."""

MOST_OUTLINES = 20_000

SMOOTH_PIXELS = 0.02
"""Outlines are straightened by this share of a pixel at the least, far below what tracing can know."""


def outlines(picture: Picture, tracing: Tracing, contourpy: Any) -> Drawing:
    """Trace where the darkness, linear between the middles of pixels, passes the threshold.

    Parameters
    ----------
    contourpy
        The library of that name.

    Raises
    ------
    ValueError
        If there is nothing dark, or too much of a pattern to be outlined.
    """
    dark = picture.darkness
    level = otsu(picture.levels) if tracing.threshold is None else tracing.threshold
    inside = dark > level
    steps = np.count_nonzero(inside[1:] != inside[:-1]) + np.count_nonzero(inside[:, 1:] != inside[:, :-1])
    if steps > MOST_STEPS:
        raise ValueError(
            f"outlines would have {steps:,} points; allowed: up to {MOST_STEPS:,} (sweep the picture as dots)"
        )
    pixel = picture.width / picture.columns, picture.height / picture.rows
    (lines,), (starts,) = contourpy.contour_generator(
        z=np.pad(dark, 1), line_type=contourpy.LineType.ChunkCombinedOffset
    ).lines(level)
    # the padding shifts by one pixel, and a pixel's middle lies half a pixel inside its corner
    smooth = max(tracing.smooth, SMOOTH_PIXELS * min(pixel))
    found = lines is not None and _rings((lines - 0.5) * pixel, starts.astype(np.int64), tracing, smooth)
    contours = tuple(found or ())
    if not contours:
        raise ValueError(f"nothing in the picture is darker than {level:.2f}; allowed: something to mark")
    shape = Shape(contours, filled=True, stroked=False, rule="evenodd")
    return Drawing(picture.width, picture.height, (shape,))


def otsu(levels: NDArray[np.uint8]) -> float:
    """Find the darkness between the dark and the light part of a picture.

    Otsu's method (1979) splits the levels so that the two parts differ most; the threshold is the
    middle between their means, which is where an edge blurred by anti-aliasing lies.

    >>> otsu(np.array([[0, 0, 255], [0, 250, 255]], dtype=np.uint8))
    0.5032679738562091
    """
    counts = np.bincount(levels.ravel(), minlength=256).astype(float)
    below = np.cumsum(counts)
    total = np.cumsum(counts * np.arange(256))
    above = below[-1] - below
    with np.errstate(divide="ignore", invalid="ignore"):
        low, high = total / below, (total[-1] - total) / above
        between = np.nan_to_num(below * above * (high - low) ** 2)
    cut = int(between.argmax())
    if between[cut] <= 0:
        return 0.5
    return float(1 - (low[cut] + high[cut]) / 2 / 255)


def _rings(points: Floats, starts: NDArray[np.int64], tracing: Tracing, smooth: float) -> list[Contour]:
    """Make contours of closed lines, each from its start to the next; specks are dropped.

    Raises
    ------
    ValueError
        If too many are left.
    """
    x, y = points.T
    twice = np.append(x[:-1] * y[1:] - x[1:] * y[:-1], 0.0)
    twice[starts[1:] - 1] = 0.0  # from the end of a line nothing leads to the next
    areas = np.abs(np.add.reduceat(twice, starts[:-1])) / 2
    large = (areas > 0) & (areas >= tracing.speck)
    if np.count_nonzero(large) > MOST_OUTLINES:
        raise ValueError(
            f"{np.count_nonzero(large):,} outlines; allowed: up to {MOST_OUTLINES:,} (drop those below a "
            "speck of some mm², or sweep the picture as dots)"
        )
    sizes = np.diff(starts)
    which = np.repeat(np.arange(np.count_nonzero(large)), sizes[large])
    rings = np.asarray(shapely.linearrings(points[np.repeat(large, sizes)], indices=which), dtype=object)
    kept = [shapely.get_coordinates(r)[:-1].tolist() for r in np.asarray(shapely.simplify(rings, smooth))]
    return [Contour.polyline(ring) for ring in kept if len(ring) > 2]
