"""Outlines of SVG's path data and basic shapes, as segments of lines, curves and arcs in user units."""

import math
import re
from collections.abc import Callable
from itertools import pairwise

from svg.path import parse_path
from svg.path.path import Arc, Close, Line, Move, PathSegment

from nesting_adapters.svg_document import Element
from nesting_adapters.svg_values import MAX_NUMBER, NUMBER, has_more, length, numbers, shortened

MAX_POINTS = 200_000
"""So many points may a drawing have once its curves are flattened; a traced photograph has fewer."""

MAX_SEGMENTS = 60_000
"""So many lines, curves and arcs may a drawing have, those that draw nothing included."""

Segments = list[PathSegment]
Viewport = tuple[float, float]

_SPACE = "[ \t\r\n]*+"
_GAP = rf"(?>{_SPACE},?{_SPACE})"
_ARGUMENTS = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "A": 7}
_GROUPS = {letter: _GAP.join([NUMBER] * count) for letter, count in _ARGUMENTS.items()} | {
    "A": _GAP.join([NUMBER] * 3 + ["[01]"] * 2 + [NUMBER] * 2)
}
_COMMAND = re.compile(
    "|".join(rf"[{k}{k.lower()}]{_SPACE}{group}(?:{_GAP}{group})*+{_SPACE}" for k, group in _GROUPS.items())
    + rf"|[Zz]{_SPACE}"
)
_TOKEN = re.compile(rf"[A-Za-z]|{NUMBER}")
_NUMBER = re.compile(NUMBER)


def path_segments(data: str, most: int = MAX_SEGMENTS) -> Segments:
    """Read path data, refusing more than about `most` segments before any is built.

    The grammar (SVG 2, section 9.3.9) is checked here, for the library leaves out what it does not
    understand.

    Raises
    ------
    ValueError
        If the data break the grammar, a number is out of range, or there are too many.
    """
    data = data.strip()
    if data in ("", "none"):
        return []
    if has_more(_TOKEN, data, 8 * most):
        raise ValueError(too_many_segments())
    if data[0] not in "Mm":
        raise ValueError(f"the path data start with {shortened(data)}; allowed: M first")
    position = 0
    while position < len(data):
        match = _COMMAND.match(data, position)
        if match is None:
            raise ValueError(f"the path data are wrong at {shortened(data[position : position + 41])}")
        position = match.end()
        most -= 1 + sum(1 for _ in _NUMBER.finditer(match[0])) // _ARGUMENTS.get(match[0][0].upper(), 1)
        if most < 0:
            raise ValueError(too_many_segments())
    return _checked(list(parse_path(data)))


def too_many_segments() -> str:
    """Say that the drawing has too many segments."""
    return f"the drawing has too many lines and curves; allowed: {MAX_SEGMENTS}, copies included"


def too_many_points() -> str:
    """Say that the drawing has too many points."""
    return f"the drawing has too many points; allowed: {MAX_POINTS} after flattening its curves"


def shape_segments(element: Element, viewport: Viewport) -> Segments:
    """Trace a basic shape as SVG 2, chapter 10, says; nothing for a shape without extent.

    Raises
    ------
    ValueError
        If an attribute is no length, or is below 0 where that means nothing.
    """
    return _checked(SHAPES[element.tag](element, viewport))


def _checked(segments: Segments) -> Segments:
    for segment in segments:
        for name in ("start", "end", "control", "control1", "control2", "radius"):
            at = getattr(segment, name, 0j)
            if not (abs(at.real) <= MAX_NUMBER and abs(at.imag) <= MAX_NUMBER):
                raise ValueError(f"a coordinate is out of range; allowed: up to {MAX_NUMBER:g}")
    return segments


def _lengths(element: Element, viewport: Viewport, names: str) -> list[float]:
    values = []
    for name in names.split():
        across, up = viewport
        whole = {"r": diagonal(viewport)}.get(name, across if name in _ACROSS else up)
        values.append(length(element.attributes.get(name, "0"), whole))
    return values


_ACROSS = ("x", "x1", "x2", "cx", "rx", "width")


def diagonal(viewport: Viewport) -> float:
    """Give what 100 % means for a length that is neither across nor up (SVG 2, section 8.9)."""
    return math.hypot(*viewport) / math.sqrt(2)


def _radii(element: Element, viewport: Viewport) -> tuple[float, float]:
    """Read rx and ry; one that is left out, or ``auto``, takes the value of the other."""
    stated = {k: v for k in ("rx", "ry") if (v := element.attributes.get(k, "auto").strip()) != "auto"}
    read = {k: length(v, viewport[k == "ry"]) for k, v in stated.items()}
    if any(value < 0 for value in read.values()):
        raise ValueError("a radius is below 0; allowed: 0 and above")
    rx = read.get("rx", read.get("ry", 0.0))
    return rx, read.get("ry", rx)


def _rect(element: Element, viewport: Viewport) -> Segments:
    x, y, w, h = _lengths(element, viewport, "x y width height")
    rx, ry = _radii(element, viewport)
    if w < 0 or h < 0:
        raise ValueError("width or height is below 0; allowed: 0 and above")
    if w == 0 or h == 0:
        return []
    rx, ry = min(rx, w / 2), min(ry, h / 2)
    if rx == 0 or ry == 0:
        return _polyline(
            [complex(x, y), complex(x + w, y), complex(x + w, y + h), complex(x, y + h)], closed=True
        )
    x1, y1 = x + w, y + h
    corners = [
        (complex(x + rx, y), complex(x1 - rx, y)), (complex(x1, y + ry), complex(x1, y1 - ry)),
        (complex(x1 - rx, y1), complex(x + rx, y1)), (complex(x, y1 - ry), complex(x, y + ry)),
    ]  # fmt: skip
    track: Segments = [Move(corners[0][0])]
    for (start, end), (following, _) in zip(corners, corners[1:] + corners[:1], strict=True):
        track += [Line(start, end)] if start != end else []
        track.append(Arc(end, complex(rx, ry), 0, arc=False, sweep=True, end=following))
    return [*track, Close(corners[0][0], corners[0][0])]


def _circle(element: Element, viewport: Viewport) -> Segments:
    cx, cy, r = _lengths(element, viewport, "cx cy r")
    if r < 0:
        raise ValueError("a radius is below 0; allowed: 0 and above")
    return _round(cx, cy, r, r)


def _ellipse(element: Element, viewport: Viewport) -> Segments:
    cx, cy = _lengths(element, viewport, "cx cy")
    return _round(cx, cy, *_radii(element, viewport))


def _round(cx: float, cy: float, rx: float, ry: float) -> Segments:
    if rx == 0 or ry == 0:
        return []
    at = [complex(cx + rx, cy), complex(cx, cy + ry), complex(cx - rx, cy), complex(cx, cy - ry)]
    arcs = [Arc(a, complex(rx, ry), 0, arc=False, sweep=True, end=b) for a, b in pairwise([*at, at[0]])]
    return [Move(at[0]), *arcs, Close(at[0], at[0])]


def _line(element: Element, viewport: Viewport) -> Segments:
    x1, y1, x2, y2 = _lengths(element, viewport, "x1 y1 x2 y2")
    return _polyline([complex(x1, y1), complex(x2, y2)], closed=False)


def _points(element: Element) -> list[complex]:
    values = numbers(element.attributes.get("points", ""), 2 * MAX_SEGMENTS)
    if len(values) % 2:
        raise ValueError(f"points holds {len(values)} numbers; allowed: pairs of x and y")
    return [complex(x, y) for x, y in zip(values[::2], values[1::2], strict=True)]


def _polyline(points: list[complex], closed: bool) -> Segments:
    if len(points) < 2:
        return []
    track: Segments = [Move(points[0]), *(Line(a, b) for a, b in pairwise(points))]
    return [*track, Close(points[-1], points[0])] if closed else track


SHAPES: dict[str, Callable[[Element, Viewport], Segments]] = {
    "rect": _rect,
    "circle": _circle,
    "ellipse": _ellipse,
    "line": _line,
    "polyline": lambda element, viewport: _polyline(_points(element), closed=False),  # noqa: ARG005
    "polygon": lambda element, viewport: _polyline(_points(element), closed=True),  # noqa: ARG005
}
