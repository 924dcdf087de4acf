"""Strokes of SVG: their width, caps, corners and dashes (SVG 2, section 13.5)."""

import math
import re
from bisect import bisect_right
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import accumulate, cycle, islice, pairwise
from typing import cast, get_args

from svg.path.path import Arc as SvgArc
from svg.path.path import Close, Line, Move

from nesting.geometry.contour import Arc, Contour, Vertex
from nesting.geometry.drawing import Cap, Join, Pen
from nesting_adapters.svg_contours import chains
from nesting_adapters.svg_path import Segments, Viewport, diagonal, too_many_points
from nesting_adapters.svg_transform import Matrix
from nesting_adapters.svg_values import length, shortened

MAX_DASHES = 100

_SPLIT = re.compile(r"[\s,]+")


@dataclass(frozen=True)
class Stroke:
    """How an element's line is drawn, lengths in the user units that `matrix` maps to mm."""

    width: float
    cap: Cap
    join: Join
    miter: float
    dashes: tuple[float, ...]
    offset: float
    matrix: Matrix

    @property
    def width_mm(self) -> float:
        """Width on the page, on the mean of all directions."""
        return self.width * self.matrix.scale

    @property
    def pen(self) -> Pen:
        """The pen that draws it on the page."""
        m, k = self.matrix, self.matrix.scale
        nib = (1.0, 0.0, 0.0, 1.0) if m.is_similarity else (m.a / k, m.b / k, m.c / k, m.d / k)
        return Pen(self.cap, self.join, self.miter, nib)


def stroke_of(style: Mapping[str, str], viewport: Viewport, matrix: Matrix) -> Stroke:
    """Read an element's stroke properties.

    Raises
    ------
    ValueError
        If one of them is not understood or out of range.
    """
    whole = diagonal(viewport)
    width = length(style["stroke-width"], whole)
    if width < 0:
        raise ValueError("stroke-width is below 0; allowed: 0 and above")
    cap, join = style["stroke-linecap"], style["stroke-linejoin"]
    if cap not in get_args(Cap):
        raise ValueError(f"stroke-linecap {shortened(cap)} is not understood; allowed: butt, round, square")
    if join not in get_args(Join):
        raise ValueError(f"stroke-linejoin {shortened(join)} cannot be drawn; allowed: miter, round, bevel")
    miter = length(style["stroke-miterlimit"], None)
    if miter < 1:
        raise ValueError("stroke-miterlimit is below 1; allowed: 1 and above")
    dashes = _dashes(style["stroke-dasharray"], whole)
    offset = length(style["stroke-dashoffset"], whole)
    return Stroke(width, cast("Cap", cap), cast("Join", join), miter, dashes, offset, matrix)


def _dashes(text: str, whole: float) -> tuple[float, ...]:
    """Read dash and gap lengths, in pairs; none for a line without gaps."""
    parts = [part for part in _SPLIT.split(text.strip(), MAX_DASHES) if part]
    if text == "none" or not parts:
        return ()
    if len(parts) > MAX_DASHES:
        raise ValueError(f"more than {MAX_DASHES} dashes")
    lengths = tuple(length(part, whole) for part in parts)
    if min(lengths) < 0:
        raise ValueError("a length of stroke-dasharray is below 0; allowed: 0 and above")
    lengths *= 1 + len(lengths) % 2
    return lengths if any(lengths[1::2]) else ()


def dashed(
    found: list[Contour], stroke: Stroke, path_length: float | None, tolerance: float, most: int
) -> tuple[list[Contour], list[tuple[complex, complex]]]:
    """Cut lines into dashes.

    Parameters
    ----------
    path_length
        What all the lines together count as where dashes are measured (SVG 2, section 9.6.1).
    most
        So many points may come out.

    Returns
    -------
    The dashes that have a length; and of those that have none, place and direction in user units.

    Raises
    ------
    ValueError
        If there are too many.
    """
    rulers = [_Ruler.along(contour, stroke.matrix, tolerance) for contour in found]
    stretch = sum(ruler.total for ruler in rulers) / path_length if path_length else 1.0
    pattern = [dash * stretch for dash in stroke.dashes]
    lines: list[Contour] = []
    dots: list[tuple[complex, complex]] = []
    for contour, ruler in zip(found, rulers, strict=True):
        spans = list(islice(_spans(ruler.total, pattern, stroke.offset * stretch), most + 1))
        most -= len(spans)
        if most < 0:
            raise ValueError(too_many_points())
        around = contour.closed and len(spans) > 1 and spans[0][0] <= 0 and spans[-1][1] >= ruler.total
        if around:
            spans[0] = (spans.pop()[0] - ruler.total, spans[0][1])
        for begin, end in spans:
            if end > begin:
                line = ruler.part(begin, end)
                most -= len(line)
                lines.append(Contour(tuple(line), closed=False))
            else:
                dots.append(ruler.at(begin, stroke.matrix))
    return lines, dots


def _spans(total: float, pattern: list[float], offset: float) -> Iterator[tuple[float, float]]:
    """Give where along a line of length `total` each dash begins and ends."""
    bounds = accumulate(cycle(pattern), initial=-(offset % math.fsum(pattern)))
    for begin in bounds:
        end = next(bounds)
        if begin >= total:
            return
        if end > 0 or begin == end == 0:
            yield max(begin, 0.0), min(end, total)


@dataclass(frozen=True)
class _Ruler:
    """A line with the length, in user units, at which each of its stretches ends."""

    stretches: list[tuple[Vertex, Vertex]]
    ends: list[float]

    @classmethod
    def along(cls, contour: Contour, matrix: Matrix, tolerance: float) -> "_Ruler":
        if not matrix.is_similarity:
            # an ellipse's arcs are not as long as the circle's that it may have become
            contour = Contour.polyline(contour.flattened(tolerance), closed=contour.closed)
        back = matrix.inverse()
        lengths = (
            abs(back.along(complex(b[0] - a[0], b[1] - a[1])))
            if not a[2]
            else Contour((a, (*b[:2], 0.0)), closed=False).length / matrix.scale
            for a, b in contour.segments
        )
        return cls(contour.segments, list(accumulate(lengths)))

    @property
    def total(self) -> float:
        """Length of the whole line."""
        return self.ends[-1]

    def part(self, begin: float, end: float) -> list[Vertex]:
        """Give the vertices from one length to another; one below 0 is counted back from the end."""
        if begin < 0:
            return [*self.part(self.total + begin, self.total)[:-1], *self.part(0.0, end)]
        first = min(bisect_right(self.ends, begin), len(self.ends) - 1)
        vertices: list[Vertex] = []
        for k in range(first, len(self.ends)):
            start = self.ends[k - 1] if k else 0.0
            shares = [min(max((at - start) / (self.ends[k] - start), 0.0), 1.0) for at in (begin, end)]
            a, b = self.stretches[k]
            vertices.append((*_point(a, b, shares[0]), math.tan(math.atan(a[2]) * (shares[1] - shares[0]))))
            if end <= self.ends[k] or k == len(self.ends) - 1:
                return [*vertices, (*_point(a, b, shares[1]), 0.0)]
        return vertices

    def at(self, place: float, matrix: Matrix) -> tuple[complex, complex]:
        """Give a place along the line, and the direction there, in user units."""
        step = self.total * 1e-6
        (x0, y0, _), *_, (x1, y1, _) = self.part(min(place, self.total - step), place + step)
        back = matrix.inverse()
        ahead = back.along(complex(x1 - x0, y1 - y0))
        return back.point(complex(x0, y0)), ahead / abs(ahead)


def _point(a: Vertex, b: Vertex, share: float) -> tuple[float, float]:
    if a[2] and 0 < share < 1:
        return Arc.between(a, b).at(share)
    return (a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share)


def dot(at: complex, ahead: complex, stroke: Stroke) -> Segments:
    """Outline what a line of no length leaves: a disc, a square, or nothing (SVG 2, section 13.5.4)."""
    r = stroke.width / 2
    if stroke.cap == "butt":
        return []
    corners = [at + r * ahead * turn for turn in (1 + 1j, -1 + 1j, -1 - 1j, 1 - 1j)]
    if stroke.cap == "round":
        ends = [at - r, at + r, at - r]
        arcs = [SvgArc(a, complex(r, r), 0, arc=False, sweep=True, end=b) for a, b in pairwise(ends)]
        return [Move(ends[0]), *arcs, Close(ends[0], ends[0])]
    lines = [Line(a, b) for a, b in pairwise(corners)]
    return [Move(corners[0]), *lines, Close(corners[-1], corners[0])]


def lone_points(segments: Segments) -> list[complex]:
    """Find the places where a path draws a line of no length."""
    return [chain[0].start for chain, _ in chains(segments) if all(s.start == s.end for s in chain)]
