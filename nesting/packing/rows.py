"""Equal circles in rows: square, hexagonal, stretched to the width, or a mixture of close and straight."""

import math
from collections.abc import Iterator

Centre = tuple[int, int]


def centres(width: int, height: int, distance: int) -> list[Centre]:
    """Place as many points as rows along either side allow in a box, `distance` or more apart.

    Coordinates are whole, and distances are kept after rounding.

    Examples
    --------
    >>> len(centres(2000, 2000, 1000)), len(centres(4000, 3468, 1000)), len(centres(0, 0, 5))
    (9, 23, 1)
    """
    if width < 0 or height < 0:
        return []
    best: list[Centre] = []
    for across, along, turned in ((width, height, False), (height, width, True)):
        for rows in _arrangements(across, along, distance):
            count = sum(n for n, _, _, _ in rows)
            if count > len(best):
                points = [(x + k * step, y) for n, x, step, y in rows for k in range(n)]
                best = [(y, x) for x, y in points] if turned else points
    return best


Row = tuple[int, int, int, int]
"""``(points, first x, step, y)``."""


def _arrangements(width: int, height: int, distance: int) -> Iterator[list[Row]]:
    most = width // distance + 1
    for n in range(most, 1, -1):
        if (n - 1) * distance * 2 < width:
            break
        yield from _stacked(n, n - 1, width // (n - 1), height, distance)
        if (2 * n - 1) * distance <= 2 * width:
            yield from _stacked(n, n, 2 * width // (2 * n - 1), height, distance)
    yield from _stacked(most, (width - distance // 2) // distance + 1, distance, height, distance)
    if most == 1:
        yield _zigzag(width, height, distance)


def _stacked(full: int, shifted: int, step: int, height: int, distance: int) -> Iterator[list[Row]]:
    """Rows that nestle into each other so often, and for the rest repeat the first row straight."""
    half = step // 2
    # two rows apart the points stand above each other
    close = max(_leg(distance, half), -(-distance // 2))
    for nestled in range(height // close + 1):
        straight = (height - nestled * close) // distance
        rows = [(full, 0, step, k * distance) for k in range(straight + 1)]
        for k in range(nestled):
            y = straight * distance + (k + 1) * close
            rows.append((full, 0, step, y) if k % 2 else (shifted, half, step, y))
        yield rows


def _leg(distance: int, other: int) -> int:
    """Shortest whole length that, at right angles to `other`, makes up the distance."""
    return math.isqrt(distance**2 - other**2 - 1) + 1 if distance > other else 0


def _zigzag(width: int, height: int, distance: int) -> list[Row]:
    """Single points from side to side."""
    step = max(_leg(distance, width), -(-distance // 2))
    return [(1, width * (k % 2), distance, k * step) for k in range(height // step + 1)]
