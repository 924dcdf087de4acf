"""Exact distances from points to lines and arcs."""

import math

import numpy as np
import shapely
from numpy.typing import NDArray

from nesting.check.solids import Bools, Floats, arc_of, chain
from nesting.geometry.contour import Contour

Places = NDArray[np.complex128]
"""Points of the plane as x + iy."""

SAME_MM = 0.002
"""Outlines and markings are verified to this."""
_STEP_MM = 0.25
_PIECES = 8
_BATCH = 2_000_000


def samples(contour: Contour) -> Places:
    """Give points all along a contour: its vertices, and between them 8 points or one every 0.25 mm."""
    points = []
    for a, b in _segments(contour):
        start, chord = complex(*a[:2]), complex(b[0] - a[0], b[1] - a[1])
        count = max(_PIECES, math.ceil(abs(chord) * (1 + abs(a[2])) / _STEP_MM))
        share = np.arange(count) / count
        if a[2]:
            centre, sweep = arc_of(a, b)
            points.append(centre + (start - centre) * np.exp(1j * sweep * share))
        else:
            points.append(start + chord * share)
    points.append(np.array([complex(*contour.vertices[-1][:2])]))
    return np.concatenate(points)


def distances(places: Places, contour: Contour) -> Floats:
    """Measure how far points are from the nearest point of a contour, in mm."""
    segments = _segments(contour)
    batches = np.array_split(places, max(len(places) * len(segments) // _BATCH, 1))
    return np.concatenate([_nearest(batch, segments) for batch in batches])


def signed_distances(places: Places, contour: Contour) -> Floats:
    """Measure how far points are from a closed contour: below 0 inside it."""
    inside = shapely.contains_xy(shapely.Polygon(chain(contour)), places.real, places.imag)
    return distances(places, contour) * np.where(inside, -1, 1)


def same_course(a: Contour, b: Contour, within: float = SAME_MM) -> bool:
    """Tell whether two contours run over the same points, to `within` mm, whatever their vertices."""
    if a.closed != b.closed:
        return False
    if len(a.vertices) == len(b.vertices) and _close_vertices(a, b):
        return True
    # contours of one course have one extent; most that differ are told apart by it
    if np.abs(_extent(a) - _extent(b)).max() > 10 * within:
        return False
    forth, back = distances(samples(a), b), distances(samples(b), a)
    return bool(max(forth.max(), back.max()) <= within)


def length_of(contour: Contour) -> float:
    """Measure the length along a contour in mm."""
    total = 0.0
    for a, b in _segments(contour):
        chord = abs(complex(b[0] - a[0], b[1] - a[1]))
        half = 2 * math.atan(a[2])
        total += chord * half / math.sin(half) if a[2] else chord
    return total


def _segments(contour: Contour) -> list[tuple[tuple[float, float, float], tuple[float, float, float]]]:
    ends = contour.vertices[1:] + (contour.vertices[:1] if contour.closed else ())
    return list(zip(contour.vertices, ends, strict=False))


def _close_vertices(a: Contour, b: Contour) -> bool:
    """Tell whether vertices are the same within 1 µm, and the arcs between them no further apart."""
    first, second = np.array(a.vertices), np.array(b.vertices)
    off = np.abs(first[:, :2] - second[:, :2]).max()
    # half the chord times the bulge is the height of the arc
    chords = np.abs(np.diff(first[:, 0] + 1j * first[:, 1], append=complex(*a.vertices[0][:2])))
    heights = np.abs(first[:, 2] - second[:, 2]) * chords / 2
    return bool(off <= SAME_MM / 2 and heights.max() <= SAME_MM / 4)


def _extent(contour: Contour) -> Floats:
    points = chain(contour, SAME_MM)
    return np.concatenate([points.min(axis=0), points.max(axis=0)])


def _nearest(
    places: Places, segments: list[tuple[tuple[float, float, float], tuple[float, float, float]]]
) -> Floats:
    a = np.array([complex(*first[:2]) for first, _ in segments])
    b = np.array([complex(*second[:2]) for _, second in segments])
    bent = np.array([first[2] != 0 for first, _ in segments])
    nearest = np.full(len(places), np.inf)
    if not bent.all():
        nearest = np.minimum(nearest, _to_lines(places, a[~bent], b[~bent]))
    if bent.any():
        arcs = [arc_of(first, second) for first, second in segments if first[2]]
        nearest = np.minimum(nearest, _to_arcs(places, a[bent], b[bent], arcs))
    return nearest


def _to_lines(places: Places, a: Places, b: Places) -> Floats:
    along = b - a
    squared = np.maximum(np.abs(along) ** 2, 1e-300)
    from_a = places[:, None] - a
    share = np.clip((from_a * along.conj()).real / squared, 0, 1)
    return np.asarray(np.abs(from_a - share * along).min(axis=1))


def _to_arcs(places: Places, a: Places, b: Places, arcs: list[tuple[complex, float]]) -> Floats:
    centres, sweeps = np.array([centre for centre, _ in arcs]), np.array([sweep for _, sweep in arcs])
    spokes = places[:, None] - centres
    # the angle ahead of the start, in the direction of the arc
    ahead = np.angle(spokes / (a - centres)) * np.sign(sweeps) % (2 * math.pi)
    beside: Bools = ahead <= np.abs(sweeps)
    to_circle = np.abs(np.abs(spokes) - np.abs(a - centres))
    to_ends = np.minimum(np.abs(places[:, None] - a), np.abs(places[:, None] - b))
    return np.asarray(np.where(beside, to_circle, to_ends).min(axis=1))
