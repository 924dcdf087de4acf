"""No-fit polygons: where one outline must not be put, another one standing still."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Geometry, MultiPolygon, Polygon

from nesting.geometry.contour import FLATTEN_MM, Points, turning
from nesting.geometry.minkowski import Rings, grown, minkowski_sums, shrunk
from nesting.geometry.touching import may_touch

SLACK_MM = 0.000499
"""How deep two outlines may press into each other: just less than half the placement grid."""

_MANY = 24
"""Of more hulls those that the others cover are left out."""

_AT_A_TIME = 12
"""How many hulls are added before seeing what is still uncovered."""


@dataclass(frozen=True, eq=False)
class NoFit:
    """The positions of an orbiting outline's (0, 0) that press it into a standing one.

    Attributes
    ----------
    hulls
        Convex polygons, counter-clockwise; a position strictly inside any of them is forbidden and
        every other one is allowed. Joined, they are the no-fit polygon; kept apart, they also tell
        that a piece may slide along a slot exactly as wide as itself, which a union forgets.

    Examples
    --------
    >>> from nesting.geometry.minkowski import convex_pieces
    >>> square = shapely.Polygon([(0, 0), (1, 0), (1, 1), (0, 1)])
    >>> nofit = no_fit(convex_pieces(square), convex_pieces(square))
    >>> nofit.depth(np.array([[0.25, 0.0], [1.0, 0.0], [2.0, 0.0]])).tolist()
    [0.75, 0.0, 0.0]
    """

    hulls: Rings
    source: "tuple[NoFit, float] | None" = None
    """The no-fit polygon that this one is by a turn in degrees, if it was made so."""
    joined: Geometry | None = None
    """Its region, if that is known."""

    @cached_property
    def polygon(self) -> Polygon | MultiPolygon:
        """The hulls joined: the no-fit polygon, without its slots and points of no width."""
        joined = shapely.union_all(self.hulls.polygons())
        assert isinstance(joined, Polygon | MultiPolygon)
        return joined

    @cached_property
    def region(self) -> Geometry:
        """The no-fit polygon with each hull pulled in by `SLACK_MM`, so that exact fits stay open."""
        if self.source is not None:
            nofit, turn = self.source
            return shapely.transform(nofit.region, lambda points: points @ turning(turn))
        if self.joined is not None:
            return self.joined
        hulls = shrunk(self.hulls, SLACK_MM)
        return hulls[0] if len(hulls) == 1 else shapely.union_all(hulls)

    def turned(self, turn: float) -> "NoFit":
        """Turn both outlines by `turn` degrees; by 180 the two also change places.

        >>> square = Rings(np.array([[0.0, 0], [1, 0], [1, 1], [0, 1]]), np.array([0]))
        >>> NoFit(square).turned(90).bounds
        (-1.0, 0.0, 0.0, 1.0)
        """
        if turn % 360 == 0:
            return self
        nofit, before = self.source or (self, 0.0)
        hulls = Rings(nofit.hulls.points @ turning(before + turn), nofit.hulls.starts)
        return NoFit(hulls, (nofit, before + turn))

    @cached_property
    def bounds(self) -> tuple[float, float, float, float]:
        """``(min x, min y, max x, max y)`` of all hulls."""
        (x0, y0), (x1, y1) = self.hulls.points.min(axis=0), self.hulls.points.max(axis=0)
        return float(x0), float(y0), float(x1), float(y1)

    @cached_property
    def sides(self) -> tuple[Points, NDArray[np.float64]]:
        """Outward unit normals (n, 2) and offsets (n,) of all hulls' sides."""
        edges = self.hulls.edges
        normals = np.column_stack([edges[:, 1], -edges[:, 0]]) / np.hypot(*edges.T)[:, None]
        return normals, np.einsum("ij,ij->i", normals, self.hulls.points)

    def depth(self, positions: Points) -> NDArray[np.float64]:
        """How deep (mm) each position, shape (n, 2), lies in its deepest hull; 0 where it is allowed."""
        normals, offsets = self.sides
        inside = offsets - positions @ normals.T
        deepest = np.minimum.reduceat(inside, self.hulls.starts, axis=1).max(axis=1)
        return np.asarray(np.maximum(deepest, 0.0))


def no_fit(static: Sequence[Points], orbiting: Sequence[Points], gap: float = 0.0) -> NoFit:
    """Make the no-fit polygon of two outlines cut into convex pieces, `gap` mm apart.

    The sum of each piece of the one with the mirror image of each piece of the other, grown by the
    gap. It may be up to `FLATTEN_MM` too large at a round corner, and is never too small.
    """
    mirrored = [-piece for piece in orbiting]
    hulls = grown(minkowski_sums(static, mirrored), gap, FLATTEN_MM)
    if len(hulls.starts) <= _MANY:
        return NoFit(hulls)
    return _fewest(hulls, may_touch(static, mirrored).ravel())


def _fewest(hulls: Rings, outer: NDArray[np.bool_]) -> NoFit:
    """Keep those that make up the boundary, and of the others as few as fill what is left between them."""
    pulled_in = shrunk(hulls, SLACK_MM)
    joined, kept = shapely.union_all(pulled_in[outer]), outer.copy()
    left = np.flatnonzero(~outer)
    while True:
        shapely.prepare(joined)
        left = left[~shapely.covers(joined, pulled_in[left])]
        if not len(left):
            return NoFit(hulls.chosen(kept), joined=joined)
        some = left[:: math.ceil(len(left) / _AT_A_TIME)]
        kept[some] = True
        left = np.setdiff1d(left, some)
        joined = shapely.union_all([joined, *pulled_in[some]])
