"""Fills an area with parallel sweeps."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from nesting.geometry.contour import Contour, cos_sin
from nesting.geometry.drawing import FillRule

Sweep = tuple[float, float, float, float]
Floats = NDArray[np.float64]

FINE_MM = 0.005
"""Arcs are flattened to this before they are swept."""

SHORTEST_MM = 1e-6
"""A sweep shorter than this is rounding, not area."""


def hatch(
    contours: Sequence[Contour], rule: FillRule, interval: float, angle: float = 0.0
) -> tuple[Sweep, ...]:
    """Sweep the inside of contours with lines `interval` mm apart.

    Every line stands for a band of one interval, so the outermost ones lie half an interval inside
    the extent of the area, and an area thinner than the interval gets one line along its middle.

    Parameters
    ----------
    contours
        Outlines; an open one is closed by a straight line, as SVG 2, section 13.4.2, says.
    rule
        What is inside.
    interval
        Distance of the lines in mm.
    angle
        Direction of the lines in degrees counter-clockwise from x.

    Returns
    -------
    ``(x0, y0, x1, y1)`` in mm for each sweep, every other line backwards.

    Examples
    --------
    >>> square = Contour.polyline([(0, 0), (2, 0), (2, 2), (0, 2)])
    >>> hatch([square], "nonzero", 1.0)
    ((0.0, 0.5, 2.0, 0.5), (2.0, 1.5, 0.0, 1.5))
    >>> hatch([], "nonzero", 1.0)
    ()
    """
    c, s = cos_sin(angle)
    rings = [contour.flattened(FINE_MM) @ np.array([[c, -s], [s, c]]) for contour in contours]
    if not rings:
        return ()
    starts = np.vstack(rings)
    ends = np.vstack([np.roll(ring, -1, axis=0) for ring in rings])
    line, x, winding, heights = _crossings(starts, ends, interval)
    inside = np.cumsum(winding) != 0 if rule == "nonzero" else np.arange(len(x)) % 2 == 0
    change = np.flatnonzero(np.diff(inside, prepend=False))
    enter, leave = change[::2], change[1::2]
    keep = x[leave] - x[enter] > SHORTEST_MM
    spans = np.column_stack([x[enter], x[leave]])[keep]
    rows = line[enter][keep]
    turned = _serpentine(spans, rows, heights[rows])
    back = np.array([[c, s], [-s, c]])
    sweeps = np.hstack([turned[:, :2] @ back, turned[:, 2:] @ back])
    return tuple((x0, y0, x1, y1) for x0, y0, x1, y1 in sweeps.tolist())


def _crossings(
    starts: Floats, ends: Floats, interval: float
) -> tuple[NDArray[np.int64], Floats, NDArray[np.int64], Floats]:
    """Where edges cross the lines: line number, x and direction of each, sorted, and the lines' heights.

    An edge owns its lower end but not its upper one, so a corner counts once.
    """
    low, high = starts[:, 1].min(), starts[:, 1].max()
    count = max(1, round((high - low) / interval))
    first = low + (high - low - (count - 1) * interval) / 2
    up = np.where(ends[:, 1] > starts[:, 1], 1, -1)
    bottom, top = np.minimum(starts[:, 1], ends[:, 1]), np.maximum(starts[:, 1], ends[:, 1])
    begin = np.clip(np.ceil((bottom - first) / interval), 0, count).astype(np.int64)
    stop = np.clip(np.ceil((top - first) / interval), 0, count).astype(np.int64)
    edge = np.repeat(np.arange(len(starts)), stop - begin)
    before = np.cumsum(stop - begin) - (stop - begin)
    line = np.arange(len(edge)) - before[edge] + begin[edge]
    heights = first + interval * np.arange(count)
    a, b = starts[edge], ends[edge]
    share = np.clip((heights[line] - a[:, 1]) / (b[:, 1] - a[:, 1]), 0.0, 1.0)
    x = a[:, 0] + share * (b[:, 0] - a[:, 0])
    order = np.lexsort((x, line))
    return line[order], x[order], up[edge][order], heights


def _serpentine(spans: Floats, rows: NDArray[np.int64], heights: Floats) -> Floats:
    """Run every other used line backwards, its spans in backward order; columns x0, y0, x1, y1."""
    _, used = np.unique(rows, return_inverse=True)
    backwards = used % 2 == 1
    x0, x1 = np.where(backwards, spans[:, 1], spans[:, 0]), np.where(backwards, spans[:, 0], spans[:, 1])
    order = np.lexsort((np.where(backwards, -x0, x0), rows))
    return np.column_stack([x0, heights, x1, heights])[order]
