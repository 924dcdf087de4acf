"""A contour: a chain of straight lines and true circular arcs."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]
Vertex = tuple[float, float, float]
Side = Literal["on", "outer", "inner"]

LEAST_BULGE = 1e-9
"""A stretch that is bent less is a line: its arc would stray from the chord by half that share of it."""

MOST_PIECES = 200_000
"""No arc is drawn by more lines: a circle of 10 km is drawn to a micrometre."""

FLATTEN_MM = 0.02
"""Largest distance between an arc and the polygon that stands for it."""


@dataclass(frozen=True)
class Contour:
    """A chain of lines and arcs.

    Attributes
    ----------
    vertices
        ``(x, y, bulge)`` in mm. The bulge is that of the stretch from this vertex to the next one:
        the tangent of a quarter of the arc's angle, positive counter-clockwise, 0 for a line
        (the convention of polylines in the published DXF reference). The last bulge of an open
        contour is 0.
    closed
        Whether the last vertex joins the first one again.

    Raises
    ------
    ValueError
        For fewer than two vertices, or a coordinate that is not finite.

    Examples
    --------
    >>> square = Contour.polyline([(0, 0), (2, 0), (2, 2), (0, 2)])
    >>> square.length, square.area
    (8.0, 4.0)
    >>> round(Contour.circle(10).length, 6)
    31.415927
    """

    vertices: tuple[Vertex, ...]
    closed: bool = True

    def __post_init__(self) -> None:
        vertices = tuple([(float(x), float(y), _bulge(b)) for x, y, b in self.vertices])
        if len(vertices) < 2:
            raise ValueError("a contour needs two vertices or more")
        if not all(math.isfinite(x) and math.isfinite(y) and math.isfinite(b) for x, y, b in vertices):
            raise ValueError("a contour's coordinates must be finite numbers")
        object.__setattr__(self, "vertices", vertices)

    @classmethod
    def polyline(cls, points: Iterable[Sequence[float]], *, closed: bool = True) -> "Contour":
        """Join points by straight lines."""
        return cls(tuple((p[0], p[1], 0.0) for p in points), closed)

    @classmethod
    def circle(cls, diameter: float, x: float = 0.0, y: float = 0.0) -> "Contour":
        """Make a full circle round (x, y), counter-clockwise, as two arcs."""
        r = diameter / 2
        return cls(((x - r, y, 1.0), (x + r, y, 1.0)))

    @cached_property
    def points(self) -> Points:
        """The vertices, shape (n, 2)."""
        return np.array(self.vertices, dtype=float)[:, :2]

    @property
    def segments(self) -> list[tuple[Vertex, Vertex]]:
        """Pairs of vertices, one for each line or arc; the bulge is that of the first."""
        ends = self.vertices[1:] + (self.vertices[:1] if self.closed else ())
        return list(zip(self.vertices, ends, strict=False))

    @property
    def length(self) -> float:
        """Length along the contour in mm."""
        return math.fsum(_segment_length(a, b) for a, b in self.segments)

    @property
    def area(self) -> float:
        """Signed area in mm², positive counter-clockwise; an open contour is closed by its chord."""
        total = math.fsum((a[0] * b[1] - b[0] * a[1]) / 2 for a, b in self._ring())
        return total + math.fsum(_cap_area(a, b) for a, b in self.segments if a[2])

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """``(min x, min y, max x, max y)``, exact for arcs."""
        xs, ys = [v[0] for v in self.vertices], [v[1] for v in self.vertices]
        for a, b in self.segments:
            if a[2]:
                arc = Arc.between(a, b)
                for quarter in range(4):
                    if arc.covers(quarter * math.pi / 2):
                        xs.append(arc.x + arc.radius * (1, 0, -1, 0)[quarter])
                        ys.append(arc.y + arc.radius * (0, 1, 0, -1)[quarter])
        return min(xs), min(ys), max(xs), max(ys)

    def moved(self, x: float = 0.0, y: float = 0.0, turn: float = 0.0) -> "Contour":
        """Turn by `turn` degrees counter-clockwise round the origin, then shift by (x, y)."""
        c, s = cos_sin(turn)
        if not math.isfinite(x + y + c):
            raise ValueError("a contour's coordinates must be finite numbers")
        return _unchecked(
            tuple([(c * vx - s * vy + x, s * vx + c * vy + y, b) for vx, vy, b in self.vertices]), self.closed
        )

    def scaled(self, factor: float) -> "Contour":
        """Scale about the origin; `factor` is positive."""
        return Contour(tuple((x * factor, y * factor, b) for x, y, b in self.vertices), self.closed)

    def mirrored(self) -> "Contour":
        """Mirror in the y axis (x becomes -x); the direction of travel is kept, so the area changes sign."""
        return Contour(tuple((-x, y, -b) for x, y, b in self.vertices), self.closed)

    def reversed(self) -> "Contour":
        """Run the same contour the other way; a closed one keeps its first vertex."""
        n = len(self.vertices)
        if self.closed:
            order = [0, *range(n - 1, 0, -1)]
            return _unchecked(
                tuple([(*self.vertices[i][:2], 0.0 - self.vertices[i - 1][2]) for i in order]), closed=True
            )
        bulges = [0.0, *(0.0 - v[2] for v in self.vertices[:-1])]
        chain = [(x, y, b) for (x, y, _), b in zip(self.vertices, bulges, strict=True)]
        return _unchecked(tuple(reversed(chain)), closed=False)

    def started(self, vertex: int) -> "Contour":
        """Run a closed contour from another of its vertices."""
        return _unchecked(self.vertices[vertex:] + self.vertices[:vertex], self.closed)

    def flattened(self, tolerance: float = FLATTEN_MM, side: Side = "on") -> Points:
        """Replace arcs by short lines no further than `tolerance` mm away.

        Parameters
        ----------
        tolerance
            Largest distance in mm between arc and lines.
        side
            ``"on"`` puts the points on the arc. ``"outer"`` and ``"inner"`` are for a closed
            counter-clockwise contour: the polygon then contains the contour's region, or lies in it.

        Returns
        -------
        Array of shape (n, 2); a closed contour does not repeat its first point.

        Raises
        ------
        ValueError
            If an arc is so large that it would take more than `MOST_PIECES` lines.
        """
        points: list[tuple[float, float]] = []
        for a, b in self.segments:
            points.append((a[0], a[1]))
            if a[2]:
                points.extend(_arc_points(a, b, tolerance, side))
        if not self.closed:
            points.append(self.vertices[-1][:2])
        return np.array(points)

    def _ring(self) -> list[tuple[Vertex, Vertex]]:
        return list(zip(self.vertices, self.vertices[1:] + self.vertices[:1], strict=True))


@dataclass(frozen=True, slots=True)
class Arc:
    """Centre, radius, start angle and signed sweep (radians) of one arc of a contour."""

    x: float
    y: float
    radius: float
    start: float
    sweep: float

    @classmethod
    def between(cls, a: Vertex, b: Vertex) -> "Arc":
        """Make the arc from vertex `a` to vertex `b` with the bulge of `a`, which is not 0."""
        bulge = a[2]
        dx, dy = b[0] - a[0], b[1] - a[1]
        offset = (1 / bulge - bulge) / 4
        x, y = (a[0] + b[0]) / 2 - dy * offset, (a[1] + b[1]) / 2 + dx * offset
        radius = math.hypot(dx, dy) * (1 + bulge * bulge) / (4 * abs(bulge))
        return cls(x, y, radius, math.atan2(a[1] - y, a[0] - x), 4 * math.atan(bulge))

    def at(self, share: float, radius: float | None = None) -> tuple[float, float]:
        """Give the point after `share` of the sweep, on the arc or at another radius."""
        angle, r = self.start + self.sweep * share, self.radius if radius is None else radius
        return self.x + r * math.cos(angle), self.y + r * math.sin(angle)

    def covers(self, angle: float) -> bool:
        """Tell whether the arc passes the direction `angle` (radians)."""
        ahead = (angle - self.start) * math.copysign(1, self.sweep) % (2 * math.pi)
        return ahead <= abs(self.sweep)


def cos_sin(turn_deg: float) -> tuple[float, float]:
    """Cosine and sine of an angle in degrees, exact at right angles."""
    quarter, rest = divmod(turn_deg % 360, 90)
    if rest == 0:
        return ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[int(quarter) % 4]
    return math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))


def turning(turn_deg: float) -> NDArray[np.float64]:
    """Matrix by which rows of points are multiplied to turn them by an angle in degrees.

    >>> (np.array([[2.0, 0.0]]) @ turning(90)).tolist()
    [[0.0, 2.0]]
    """
    c, s = cos_sin(turn_deg)
    return np.array([[c, s], [-s, c]])


def _unchecked(vertices: tuple[Vertex, ...], closed: bool) -> Contour:
    """Make a contour of the vertices of another, which were looked at when that one was made."""
    contour = object.__new__(Contour)
    object.__setattr__(contour, "vertices", vertices)
    object.__setattr__(contour, "closed", closed)
    return contour


def _bulge(bulge: float) -> float:
    return 0.0 if abs(bulge) < LEAST_BULGE else float(bulge)


def _segment_length(a: Vertex, b: Vertex) -> float:
    chord = math.hypot(b[0] - a[0], b[1] - a[1])
    if not a[2]:
        return chord
    return chord * (1 + a[2] ** 2) / abs(a[2]) * abs(math.atan(a[2]))


def _cap_area(a: Vertex, b: Vertex) -> float:
    """Area between an arc and its chord, signed like the bulge."""
    arc = Arc.between(a, b)
    return arc.radius**2 * (arc.sweep - math.sin(arc.sweep)) / 2


def _arc_points(a: Vertex, b: Vertex, tolerance: float, side: Side) -> list[tuple[float, float]]:
    """Points between the ends of an arc, the ends left out; none for one without a length."""
    arc = Arc.between(a, b)
    if arc.radius == 0:
        return []
    outside = (side == "outer" and arc.sweep > 0) or (side == "inner" and arc.sweep < 0)
    room = arc.radius / (arc.radius + tolerance) if outside else 1 - tolerance / arc.radius
    step = 2 * math.acos(max(room, 0.0))
    if step * MOST_PIECES < abs(arc.sweep):
        raise ValueError(f"an arc of {arc.radius:g} mm radius is too large to be drawn to {tolerance:g} mm")
    # an outside polygon touches the arc at its own mid-angles, so no piece may reach a half turn
    pieces = max(math.ceil(abs(arc.sweep) / min(step, math.pi / 2)), 1)
    if not outside:
        return [arc.at(k / pieces) for k in range(1, pieces)]
    # an even number touches the arc at its middle too: a circle's polygon is as wide and high as the circle
    pieces += pieces % 2
    reach = arc.radius / math.cos(arc.sweep / pieces / 2)
    return [arc.at((k + 0.5) / pieces, reach) for k in range(pieces)]
