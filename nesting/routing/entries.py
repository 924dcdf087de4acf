"""Where a cut may begin: any place of a contour, its vertices and points between them."""

import math
from collections.abc import Iterable
from itertools import pairwise

from nesting.geometry.contour import Arc, Contour, Vertex

ENTRIES = 16
"""About so many places are offered along a contour."""

NEAREST_MM = 1.0
"""Places offered lie no nearer to each other than this, if they are no vertices."""

Spot = tuple[int, float]
"""A stretch of a contour, by the index of its vertex, and the share of it that lies before the place."""


def spots(contour: Contour) -> list[Spot]:
    """Offer places along a closed contour: every vertex, and points that divide its longer stretches.

    >>> spots(Contour.polyline([(0, 0), (4, 0), (4, 4), (0, 4)]))[:5]
    [(0, 0.0), (0, 0.25), (0, 0.5), (0, 0.75), (1, 0.0)]
    """
    pitch = max(contour.length / ENTRIES, NEAREST_MM)
    lengths = [Contour((a, (*b[:2], 0.0)), closed=False).length for a, b in contour.segments]
    counts = [max(1, math.floor(length / pitch + 1e-9)) for length in lengths]
    return [(k, piece / count) for k, count in enumerate(counts) for piece in range(count)]


def spots_near(contour: Contour, spot: Spot, share: float = 1 / 64) -> list[Spot]:
    """Offer a place and others round it, spread over `share` of the contour's length to either side."""
    lengths = [Contour((a, (*b[:2], 0.0)), closed=False).length for a, b in contour.segments]
    length = math.fsum(lengths)
    middle = math.fsum(lengths[: spot[0]]) + spot[1] * lengths[spot[0]]
    found = {spot}
    for step in range(-8, 9):
        along = (middle + step / 8 * share * length) % length
        for k, stretch in enumerate(lengths):
            if along < stretch or k == len(lengths) - 1:
                found.add(
                    (k, min(along / stretch, 1 - 1e-6) if stretch > 0 and step else spot[1]) if step else spot
                )
                break
            along -= stretch
    return sorted(found)


def split(contour: Contour, places: Iterable[Spot]) -> tuple[Contour, list[int]]:
    """Make vertices of places of a closed contour; give the index of each, in the order of the contour.

    The contour begins with the vertex it began with.

    >>> split(Contour.circle(2), [(0, 0.5), (1, 0.0)])[1]
    [1, 2]
    """
    wanted = sorted(set(places))
    vertices: list[Vertex] = []
    index: dict[Spot, int] = {}
    for k, (a, b) in enumerate(contour.segments):
        shares = [share for stretch, share in wanted if stretch == k]
        index.update(
            {(k, share): len(vertices) + turn + (0.0 not in shares) for turn, share in enumerate(shares)}
        )
        vertices += _pieces(a, b, [share for share in shares if share > 0])
    return Contour(tuple(vertices)), [index[place] for place in wanted]


def _pieces(a: Vertex, b: Vertex, shares: list[float]) -> list[Vertex]:
    """Cut a stretch at shares of it; its last vertex is left out."""
    cuts = [0.0, *shares, 1.0]
    if not a[2]:
        points = [(a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share) for share in cuts[:-1]]
        return [(x, y, 0.0) for x, y in points]
    arc, quarter = Arc.between(a, b), math.atan(a[2])
    points = [a[:2], *(arc.at(share) for share in shares)]
    bulges = [math.tan(quarter * (stop - begin)) for begin, stop in pairwise(cuts)]
    return [(x, y, bulge) for (x, y), bulge in zip(points, bulges, strict=True)]
