"""One painted SVG element as shapes of the drawing."""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import NamedTuple

from nesting.geometry.contour import Contour
from nesting.geometry.drawing import FillRule, Shape
from nesting_adapters.svg_clip import OUTSIDE_MM, Clip
from nesting_adapters.svg_contours import contours
from nesting_adapters.svg_document import Element
from nesting_adapters.svg_path import Segments, Viewport
from nesting_adapters.svg_stroke import Stroke, dashed, dot, lone_points, stroke_of
from nesting_adapters.svg_style import is_painted
from nesting_adapters.svg_transform import Matrix
from nesting_adapters.svg_values import MM_PER_PX, length, shortened

MARKERS = ("marker-start", "marker-mid", "marker-end")
RULES: tuple[FillRule, ...] = ("nonzero", "evenodd")


class Page(NamedTuple):
    """The page's extent in CSS px, the map from there to mm with y up, and how near curves are kept."""

    width: float
    height: float
    tolerance: float

    @property
    def to_mm(self) -> Matrix:
        """From CSS px of the page to mm."""
        return Matrix(a=MM_PER_PX, d=-MM_PER_PX, f=self.height * MM_PER_PX)


@dataclass(frozen=True)
class Place:
    """Where an element's user units lie.

    `matrix` maps them to mm, `viewport` is what 100 % stands for, and outside of `clip` nothing is seen.
    """

    page: Page
    matrix: Matrix
    viewport: Viewport
    clip: Clip | None = None


def painted_shapes(
    element: Element, segments: Segments, style: Mapping[str, str], place: Place, most: int
) -> list[Shape]:
    """Make the shapes of a path or basic shape; none if nothing of it is painted.

    Raises
    ------
    ValueError
        If its geometry or paint is not understood, cannot be marked, or has more than `most` points.
    """
    filled = element.tag != "line" and is_painted(style, "fill")
    stroke = _stroke(element, style, place) if is_painted(style, "stroke") else None
    if style["visibility"] != "visible" or not (filled or stroke):
        return []
    spread = stroke.width_mm / 2 * max(map(abs, stroke.pen.nib)) if stroke else 0.0
    found = contours(segments, place.matrix, place.page.tolerance, most, spread)
    shapes = [Shape(tuple(found), filled, stroked=False, rule=fill_rule(style))] if found else []
    if stroke is not None:
        shapes = _with_line(element, segments, shapes, stroke, place, most)
    refuse_leaving(found, lone_points(segments) if stroke else [], place)
    return [cut for shape in shapes if (cut := _cut(shape, place)) is not None]


def followed_shapes(segments: Segments, style: Mapping[str, str], place: Place, most: int) -> list[Shape]:
    """Make the shape of lines that are followed whatever the width of their paint, as a single-line font's.

    Raises
    ------
    ValueError
        If its geometry or paint is not understood, or has more than `most` points.
    """
    painted = [is_painted(style, prop) for prop in ("fill", "stroke")]
    if style["visibility"] != "visible" or not any(painted):
        return []
    found = contours(segments, place.matrix, place.page.tolerance, most)
    refuse_leaving(found, [], place)
    shape = Shape(tuple(found)) if found else None
    cut = shape and _cut(shape, place)
    return [cut] if cut else []


def clip_shape(segments: Segments, style: Mapping[str, str], place: Place, most: int) -> list[Shape]:
    """Make the shape that an element inside a clip path leaves open, whatever its paint."""
    found = contours(segments, place.matrix, place.page.tolerance, most)
    if style["visibility"] != "visible" or not found:
        return []
    shape = Shape(tuple(found), filled=True, stroked=False, rule=fill_rule(style, "clip-rule"))
    cut = _cut(shape, place)
    return [cut] if cut else []


def fill_rule(style: Mapping[str, str], key: str = "fill-rule") -> FillRule:
    """Read a fill rule."""
    for rule in RULES:
        if style[key] == rule:
            return rule
    raise ValueError(f"{key} {shortened(style[key])} is not understood; allowed: {', '.join(RULES)}")


def _stroke(element: Element, style: Mapping[str, str], place: Place) -> Stroke | None:
    """Read the stroke; None for one without a width, which paints nothing (SVG 2, section 13.5.3)."""
    effect, matrix, viewport = style["vector-effect"], place.matrix, place.viewport
    if effect == "non-scaling-stroke":
        matrix, viewport = place.page.to_mm, (place.page.width, place.page.height)
    elif effect != "none":
        raise ValueError(f"vector-effect {shortened(effect)} cannot be drawn; allowed: non-scaling-stroke")
    stroke = stroke_of(style, viewport, matrix)
    if stroke.width == 0:
        return None
    if element.tag in ("path", "line", "polyline", "polygon"):
        for name in MARKERS:
            if style[name] != "none":
                raise ValueError(f"a marker ({name}) cannot be marked; convert the stroke to paths")
    return stroke


def _with_line(
    element: Element, segments: Segments, shapes: list[Shape], stroke: Stroke, place: Place, most: int
) -> list[Shape]:
    """Add an element's line to its shapes, and the dots where it has no length."""
    found = [contour for shape in shapes for contour in shape.contours]
    to_stroke = stroke.matrix.inverse().after(place.matrix)
    dots = [(to_stroke.point(at), 1 + 0j) for at in lone_points(segments)]
    width, pen, tolerance = stroke.width_mm, stroke.pen, place.page.tolerance
    if not stroke.dashes:
        shapes = [replace(shape, stroked=True, width=width, pen=pen) for shape in shapes]
    else:
        dashes, more = dashed(found, stroke, _path_length(element), tolerance, most)
        dots += more
        shapes = [shape for shape in shapes if shape.filled]
        shapes += [Shape(tuple(dashes), width=width, pen=pen)] if dashes else []
    outlines = [dot(at, ahead, stroke) for at, ahead in dots]
    discs = [disc for outline in outlines for disc in contours(outline, stroke.matrix, tolerance, most)]
    return [*shapes, Shape(tuple(discs), filled=True, stroked=False)] if discs else shapes


def _path_length(element: Element) -> float | None:
    if "pathLength" not in element.attributes:
        return None
    stated = length(element.attributes["pathLength"], None)
    if stated <= 0:
        raise ValueError("pathLength is 0 or less; allowed: above 0")
    return stated


def _cut(shape: Shape, place: Place) -> Shape | None:
    return shape if place.clip is None else place.clip.cut(shape, place.page.tolerance)


def refuse_leaving(found: Iterable[Contour], points: Iterable[complex], place: Place) -> None:
    """Refuse contours that the page would cut off; the width of lines along its edge may leave it."""
    page, clip = place.page, place.clip
    width, height = page.width * MM_PER_PX + OUTSIDE_MM, page.height * MM_PER_PX + OUTSIDE_MM
    seen = clip.bounds if clip else (-math.inf, -math.inf, math.inf, math.inf)
    boxes = [contour.bounds for contour in found]
    boxes += [(at.real, at.imag) * 2 for at in map(place.matrix.point, points)]
    for box in boxes:
        left, bottom = max(box[0], seen[0]), max(box[1], seen[1])
        right, top = min(box[2], seen[2]), min(box[3], seen[3])
        leaves = min(left, bottom) < -OUTSIDE_MM or right > width or top > height
        if leaves and left <= right and bottom <= top:
            raise ValueError("lies outside the page, which would cut it off; move it inside")
