"""Adding depth maps to a grid, where searches for places spend their time: compiled when first called."""

import numpy as np
from numpy.typing import NDArray

from nesting.packing.compiled_fill import compiled

Grid = NDArray[np.float32]


@compiled
def add_map(onto: Grid, part: Grid, top: int, left: int, weight: float) -> None:
    """Add `weight` times a map to the part of a grid that it covers, its first entry at (top, left)."""
    rows, columns = onto.shape
    height, width = part.shape
    factor = np.float32(weight)
    for k in range(max(top, 0) - top, min(top + height, rows) - top):
        for m in range(max(left, 0) - left, min(left + width, columns) - left):
            onto[top + k, left + m] += part[k, m] * factor
