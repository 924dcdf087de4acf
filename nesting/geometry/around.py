"""Few straight lines around a convex curve that is given by many points."""

from itertools import pairwise

import numpy as np

from nesting.geometry.contour import Points

LIFT_MM = 1e-4
"""How far a polygon's sides stand off the points: more than a fine curve bulges between two of them."""


def polygon_around(ring: Points, tolerance: float) -> Points:
    """Put a polygon with few corners around a convex curve.

    Parameters
    ----------
    ring
        Points along the curve, counter-clockwise, shape (n, 2); the first is not repeated. Between
        two of them the curve bulges by less than `LIFT_MM`.
    tolerance
        How far in mm a corner may lie outside.

    Returns
    -------
    Corners of a convex polygon, shape (m, 2), around the curve.

    Examples
    --------
    >>> angles = np.linspace(0, 2 * np.pi, 720, endpoint=False)
    >>> circle = 50 * np.column_stack([np.cos(angles), np.sin(angles)])
    >>> corners = polygon_around(circle, 0.1)
    >>> len(corners), bool(np.hypot(*corners.T).max() < 50.11)
    (52, True)
    """
    sides = _Sides(ring)
    start = int(sides.lengths.argmax())
    chosen, end = [start], start + len(ring)
    while chosen[-1] < end:
        chosen.append(sides.furthest(chosen[-1], end, tolerance))
    return np.array([sides.corner(i, j) for i, j in pairwise(chosen)])


class _Sides:
    """The sides of a convex ring, numbered on and on round it."""

    def __init__(self, ring: Points) -> None:
        self.count = len(ring)
        self.ring = np.concatenate([ring, ring, ring[:1]])
        steps = np.diff(self.ring, axis=0)
        self.lengths = np.hypot(*steps[: self.count].T)
        along = steps[: self.count] / self.lengths[:, None]
        outward = np.column_stack([along[:, 1], -along[:, 0]])
        self.along, self.points = along, ring + outward * LIFT_MM

    def furthest(self, side: int, end: int, tolerance: float) -> int:
        """Find the last side before `end` that meets this one no further outside than the tolerance."""
        low, step = side + 1, 1
        while low + step <= end and self._fits(side, low + step, tolerance):
            low += step
            step *= 2
        while step > 1:
            step //= 2
            if low + step <= end and self._fits(side, low + step, tolerance):
                low += step
        return low

    def corner(self, i: int, j: int) -> Points:
        """Find where two sides meet; two that run the same way, midway between them."""
        i, j = i % self.count, j % self.count
        sine = float(_cross(self.along[i], self.along[j]))
        if abs(sine) < 1e-12:
            return np.asarray((self.points[i] + self.points[j]) / 2)
        reach = float(_cross(self.points[j] - self.points[i], self.along[j])) / sine
        return np.asarray(self.points[i] + reach * self.along[i])

    def _fits(self, i: int, j: int, tolerance: float) -> bool:
        a, b = self.along[i % self.count], self.along[j % self.count]
        if float(a @ b) <= 0:
            return False
        sides = np.arange(i, j + 1)
        starts, along = self.ring[sides], self.along[sides % self.count]
        spokes = self.corner(i, j) - starts
        reach = np.clip((spokes * along).sum(axis=1), 0, self.lengths[sides % self.count])
        return bool(np.hypot(*(spokes - reach[:, None] * along).T).min() <= tolerance)


def _cross(a: Points, b: Points) -> Points:
    return np.asarray(a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0])
