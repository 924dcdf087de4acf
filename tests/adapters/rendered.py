"""What a drawing covers, as shares of pixels: a renderer for tests that shares nothing with the planner."""

import numpy as np
from numpy.typing import NDArray

from nesting.geometry.drawing import Drawing

Floats = NDArray[np.float64]


def coverage(drawing: Drawing, width: int, height: int, fine: int = 4) -> Floats:
    """Share of each pixel of the page that is filled, by `fine` x `fine` points a pixel.

    Returns
    -------
    Shape (height, width), the first row at the page's top.
    """
    columns, rows = width * fine, height * fine
    scale = np.array([columns / drawing.width, -rows / drawing.height])
    seen = np.zeros((rows, columns), dtype=bool)
    for shape in drawing.shapes:
        rings = [c.flattened(0.002) * scale + (0, rows) for c in shape.contours]
        winding = sum((_winding(ring, rows, columns) for ring in rings), np.zeros((rows, columns), dtype=int))
        seen |= (winding % 2 == 1) if shape.rule == "evenodd" else winding != 0
    return np.asarray(seen.reshape(height, fine, width, fine).mean(axis=(1, 3)))


def _winding(ring: Floats, rows: int, columns: int) -> NDArray[np.int64]:
    """How often a ring runs round each point: the edges crossed on the way from the left."""
    steps = np.zeros((rows, columns + 1), dtype=int)
    for (x0, y0), (x1, y1) in zip(ring, np.roll(ring, -1, axis=0), strict=True):
        low, high = sorted((y0, y1))
        row = np.arange(max(0, int(np.ceil(low - 0.5))), min(rows, int(np.ceil(high - 0.5))))
        if len(row):
            x = x0 + (row + 0.5 - y0) * (x1 - x0) / (y1 - y0)
            column = np.clip(np.ceil(x - 0.5), 0, columns).astype(int)
            np.add.at(steps, (row, column), 1 if y1 > y0 else -1)
    return np.cumsum(steps, axis=1)[:, :columns]
