"""Segments in user units become contours in millimetres: circles stay arcs, other curves become lines."""

import math
from collections.abc import Iterator
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from svg.path.path import Arc, Close, CubicBezier, Move, PathSegment, QuadraticBezier

from nesting.geometry.contour import Contour, Vertex
from nesting.geometry.drawing import joint_bounds
from nesting_adapters.svg_path import MAX_POINTS, Segments, too_many_points
from nesting_adapters.svg_transform import Matrix

MAX_MM = 100_000.0
SAME_MM = 1e-9
HALVINGS = 12
"""A curve is not halved more often where it turns on the spot."""

MOST_WIDER = 1e4

Floats = NDArray[np.float64]


def contours(
    segments: Segments, matrix: Matrix, tolerance: float, most: int, spread: float = 0.0
) -> list[Contour]:
    """Map segments by `matrix` and chain them.

    Parameters
    ----------
    tolerance
        Largest distance in mm between a curve and the lines that stand for it.
    most
        So many points may come out.
    spread
        Half the width in mm of the line that will run along the curves: where they bend, its outer edge
        is no further than `tolerance` away either.

    Raises
    ------
    ValueError
        If there are too many points, or one lies further than 100 m away.
    """
    found: list[Contour] = []
    left = most
    for chain, closed in chains(segments):
        vertices: list[Vertex] = []
        for segment in chain:
            vertices.extend(_vertices(segment, matrix, tolerance, left - len(vertices), spread))
        end = _at(matrix.point(chain[-1].end))
        contour = _contour([*vertices, (*end, 0.0)], closed)
        if contour is not None:
            left -= len(contour.vertices)
            found.append(contour)
    return found


def extent(segments: Segments) -> Matrix:
    """Map the unit square to the box round segments, their line width left out.

    Raises
    ------
    ValueError
        If the box is flat.
    """
    found = contours(segments, Matrix(), 1e-3, MAX_POINTS)
    left, bottom, right, top = joint_bounds(contour.bounds for contour in found)
    if right <= left or top <= bottom:
        raise ValueError("what is clipped by its extent has none")
    return Matrix(right - left, 0, 0, top - bottom, left, bottom)


def chains(segments: Segments) -> Iterator[tuple[Segments, bool]]:
    """Split segments at every Move and after every Close."""
    chain: Segments = []
    for segment in segments:
        if isinstance(segment, Move):
            if chain:
                yield chain, False
            chain = []
            continue
        chain.append(segment)
        if isinstance(segment, Close):
            yield chain, True
            chain = []
    if chain:
        yield chain, False


def _contour(vertices: list[Vertex], closed: bool) -> Contour | None:
    """Make a contour without stretches of no length; None if nothing is left."""
    kept = [a for a, b in pairwise(vertices) if not _same(a, b)]
    if not closed:
        kept.append(vertices[-1])
    elif not kept:
        return None
    return Contour(tuple(kept), closed) if len(kept) > 1 else None


def _same(a: Vertex, b: Vertex) -> bool:
    return abs(a[0] - b[0]) <= SAME_MM and abs(a[1] - b[1]) <= SAME_MM


def _at(point: complex) -> tuple[float, float]:
    if not (abs(point.real) <= MAX_MM and abs(point.imag) <= MAX_MM):
        raise ValueError(f"a point lies beyond {MAX_MM / 1000:g} m; check units and transforms")
    return round(point.real, 9), round(point.imag, 9)


def _vertices(
    segment: PathSegment, matrix: Matrix, tolerance: float, most: int, spread: float
) -> list[Vertex]:
    """Vertices from the segment's start on, its end left out."""
    if most < 1:
        raise ValueError(too_many_points())
    if (
        isinstance(segment, Arc)
        and segment.start != segment.end
        and segment.radius.real
        and segment.radius.imag
    ):
        return _arc(segment, matrix, tolerance, most, spread)
    if isinstance(segment, CubicBezier | QuadraticBezier):
        return _bezier(segment, matrix, tolerance, most, spread)
    return [(*_at(matrix.point(segment.start)), 0.0)]


def _bezier(
    segment: CubicBezier | QuadraticBezier, matrix: Matrix, tolerance: float, most: int, spread: float
) -> list[Vertex]:
    inner = (
        [segment.control] if isinstance(segment, QuadraticBezier) else [segment.control1, segment.control2]
    )
    poles = np.array([_at(matrix.point(p)) for p in (segment.start, *inner, segment.end)])
    degree = len(poles) - 1
    bend = degree * (degree - 1) * np.abs(np.diff(poles, 2, axis=0) @ np.array([1, 1j])).max()
    t = _shares(bend, tolerance, most)
    if spread > tolerance:
        t = _denser(t, np.diff(poles, axis=0), 2 * math.acos(1 - tolerance / spread), most)
    return [(x, y, 0.0) for x, y in _bernstein(poles, t).tolist()]


def _bernstein(poles: Floats, t: Floats) -> Floats:
    """Points at parameters of the polynomial curve that the poles give."""
    degree, t = len(poles) - 1, t[:, None]
    weights = [math.comb(degree, k) * t**k * (1 - t) ** (degree - k) for k in range(degree + 1)]
    return np.asarray(sum(w * pole for w, pole in zip(weights, poles, strict=True)))


def _denser(t: Floats, steps: Floats, angle: float, most: int) -> Floats:
    """Halve the stretches of a curve along which it turns by more than `angle`; `steps` join its poles."""
    for _ in range(HALVINGS):
        ahead = _bernstein(steps, np.append(t, 1.0)) @ np.array([1, 1j])
        bent = np.flatnonzero(np.abs(np.angle(ahead[1:] * ahead[:-1].conj())) > angle)
        if not len(bent):
            break
        t = np.sort(np.concatenate([t, (t[bent] + np.append(t, 1.0)[bent + 1]) / 2]))
        if len(t) > most:
            raise ValueError(too_many_points())
    return t


def _arc(segment: Arc, matrix: Matrix, tolerance: float, most: int, spread: float) -> list[Vertex]:
    """Map an arc: as the affine image of a circle's arc, which is a circle's again if the map keeps them."""
    rotation, radius = math.radians(segment.rotation), segment.radius * segment.radius_scale
    c, s, centre = math.cos(rotation), math.sin(rotation), segment.center
    ellipse = Matrix(
        radius.real * c, radius.real * s, -radius.imag * s, radius.imag * c, centre.real, centre.imag
    )
    image = matrix.after(ellipse)
    _at(image.point(0j))
    start, sweep = math.radians(segment.theta), math.radians(segment.delta)
    if image.is_similarity:
        pieces = 1 if abs(sweep) <= math.pi * (1 + 1e-9) else 2
        bulge = math.copysign(math.tan(sweep / pieces / 4), sweep * image.determinant)
        shares, bulges = np.arange(pieces) / pieces, [bulge] * pieces
    else:
        size = math.hypot(image.a, image.b) + math.hypot(image.c, image.d)
        thin = abs(image.determinant) / size
        # where an ellipse bends most, a wide line along it is bent as if on a circle so much larger
        wider = min(max(1.0, spread * size / max(thin, 1e-9) ** 2), MOST_WIDER)
        shares = _shares(size * sweep**2 * wider, tolerance, most)
        bulges = [0.0] * len(shares)
    angles = start + sweep * shares
    points = [image.point(complex(x, y)) for x, y in zip(np.cos(angles), np.sin(angles), strict=True)]
    points[0] = matrix.point(segment.start)
    return [(*_at(point), bulge) for point, bulge in zip(points, bulges, strict=True)]


def _shares(bend: float, tolerance: float, most: int) -> Floats:
    """Parameters at which a curve is cut into lines.

    Between two points a step h apart a curve leaves its chord by at most h²/8 of its largest second
    derivative, here `bend` (the error of linear interpolation, in any text on numerical analysis).
    """
    pieces = max(1, math.ceil(math.sqrt(bend / (8 * tolerance))))
    if pieces > most:
        raise ValueError(too_many_points())
    return np.arange(pieces) / pieces
