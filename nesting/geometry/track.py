"""Endless lines and full circles: what the stretches of an offset contour lie on."""

import math
from dataclasses import dataclass

Point = tuple[float, float]

TANGENT_MM = 1e-6
"""Tracks this close without crossing count as touching."""


@dataclass(frozen=True, slots=True)
class Line:
    """The line through (x, y) in the direction (dx, dy) of length 1."""

    x: float
    y: float
    dx: float
    dy: float

    @property
    def key(self) -> tuple[float, ...]:
        """The same for equal lines run the same way, whatever their points."""
        return round(self.dx, 9), round(self.dy, 9), round(self.dx * self.y - self.dy * self.x, 6)

    def bulge(self, start: Point, end: Point) -> float | None:
        """Bulge of the stretch from start to end; None if it would run backwards."""
        ahead = (end[0] - start[0]) * self.dx + (end[1] - start[1]) * self.dy
        return 0.0 if ahead > 0 else None


@dataclass(frozen=True, slots=True)
class Circle:
    """The circle round (x, y), run counter-clockwise for sense 1, clockwise for -1."""

    x: float
    y: float
    radius: float
    sense: int

    @property
    def key(self) -> tuple[float, ...]:
        """The same for equal circles run the same way."""
        return round(self.x, 6), round(self.y, 6), round(self.radius, 6), self.sense

    def bulge(self, start: Point, end: Point) -> float | None:
        """Bulge of the stretch from start to end; None if it would be nothing or all of the circle."""
        a, b = (math.atan2(p[1] - self.y, p[0] - self.x) for p in (start, end))
        sweep = (b - a) * self.sense % (2 * math.pi)
        if min(sweep, 2 * math.pi - sweep) * self.radius < 1e-9:
            return None
        return self.sense * math.tan(sweep / 4)


Track = Line | Circle


def crossings(a: Track, b: Track) -> list[Point]:
    """Points where two tracks cross, or the one where they touch."""
    if isinstance(a, Line):
        return _lines(a, b) if isinstance(b, Line) else _line_circle(a, b)
    return _line_circle(b, a) if isinstance(b, Line) else _circles(a, b)


def _lines(a: Line, b: Line) -> list[Point]:
    cross = a.dx * b.dy - a.dy * b.dx
    if abs(cross) < 1e-9:
        return []
    t = ((b.x - a.x) * b.dy - (b.y - a.y) * b.dx) / cross
    return [(a.x + t * a.dx, a.y + t * a.dy)]


def _line_circle(line: Line, circle: Circle) -> list[Point]:
    t = (circle.x - line.x) * line.dx + (circle.y - line.y) * line.dy
    foot = (line.x + t * line.dx, line.y + t * line.dy)
    away = math.dist(foot, (circle.x, circle.y))
    return _spread(foot, (line.dx, line.dy), circle.radius, away)


def _circles(a: Circle, b: Circle) -> list[Point]:
    apart = math.dist((a.x, a.y), (b.x, b.y))
    if apart < TANGENT_MM:
        return []
    ux, uy = (b.x - a.x) / apart, (b.y - a.y) / apart
    t = (apart + (a.radius - b.radius) * (a.radius + b.radius) / apart) / 2
    return _spread((a.x + t * ux, a.y + t * uy), (-uy, ux), a.radius, abs(t))


def _spread(foot: Point, along: Point, radius: float, away: float) -> list[Point]:
    """Points of a circle on a chord `away` from its centre, `foot` being the chord's middle."""
    if away > radius + TANGENT_MM:
        return []
    half = math.sqrt(max((radius - away) * (radius + away), 0.0))
    shifts = (half, -half) if half else (0.0,)
    return [(foot[0] + h * along[0], foot[1] + h * along[1]) for h in shifts]
