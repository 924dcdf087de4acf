"""Which convex pieces of two outlines can touch while the outlines themselves do.

The boundary of the sum of two polygons is made of sides of the one at convex corners of the other whose
two sides leave the side's direction between them (Guibas, Ramshaw & Stolfi 1983). So only pieces that hold
such a side and such a corner are needed for it; the sums of other pairs lie inside.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nesting.geometry.contour import Points

_SAME = 1e-9
"""Radians by which a direction may miss the range of a corner."""


def may_touch(ps: Sequence[Points], qs: Sequence[Points]) -> NDArray[np.bool_]:
    """Tell for each piece of the one and each of the other whether their sum may reach the boundary.

    Examples
    --------
    >>> square = np.array([[0.0, 0], [1, 0], [1, 1], [0, 1]])
    >>> cross = [square + shift for shift in ([0, 0], [1, 0], [0, 1], [-1, 0], [0, -1])]
    >>> may_touch(cross, [square]).ravel().tolist()
    [False, True, True, True, True]
    """
    one, other = _Boundary.of(ps), _Boundary.of(qs)
    return one.sides_at(other) | other.sides_at(one).T


@dataclass(frozen=True, eq=False)
class _Boundary:
    """The sides and convex corners of an outline cut into convex pieces.

    Attributes
    ----------
    directions
        Of the sides, in radians.
    with_side
        Whether a piece has a side, shape (pieces, sides).
    arriving, bend
        Of the corners: the direction of the side before, and the turn to the left.
    with_corner
        Whether a piece has a corner, shape (corners, pieces).
    """

    directions: NDArray[np.float64]
    with_side: NDArray[np.bool_]
    arriving: NDArray[np.float64]
    bend: NDArray[np.float64]
    with_corner: NDArray[np.bool_]

    @classmethod
    def of(cls, pieces: Sequence[Points]) -> "_Boundary":
        starts = np.concatenate(pieces)
        ends = np.concatenate([np.roll(piece, -1, axis=0) for piece in pieces])
        owner = np.repeat(np.arange(len(pieces)), [len(piece) for piece in pieces])
        points, index = np.unique(np.concatenate([starts, ends]), axis=0, return_inverse=True)
        first, last = index.reshape(2, -1)
        # what two pieces have on either side is a cut, no side of the outline
        side = ~np.isin(first * len(points) + last, last * len(points) + first)
        directions = np.arctan2(*(ends - starts)[side].T[::-1])
        with_side = np.zeros((len(pieces), len(directions)), bool)
        with_side[owner[side], np.arange(len(directions))] = True
        leaving, arriving = np.full((2, len(points)), np.nan)
        leaving[first[side]], arriving[last[side]] = directions, directions
        bend = (leaving - arriving) % (2 * math.pi)
        convex = bend < math.pi
        with_corner = np.zeros((len(points), len(pieces)), bool)
        with_corner[first, owner] = True
        return cls(directions, with_side, arriving[convex], bend[convex], with_corner[convex])

    def sides_at(self, other: "_Boundary") -> NDArray[np.bool_]:
        """Tell which pieces have a side that can lie at a convex corner of the other outline's pieces."""
        turned = (self.directions[:, None] - other.arriving + _SAME) % (2 * math.pi)
        between = turned <= other.bend + 2 * _SAME
        sums = self.with_side.astype(np.float32) @ between.astype(np.float32)
        return np.asarray(sums @ other.with_corner.astype(np.float32) > 0)
