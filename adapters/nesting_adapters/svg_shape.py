"""One painted SVG element as a shape of the drawing."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from nesting.geometry.contour import Contour
from nesting.geometry.drawing import FillRule, Shape
from nesting_adapters.svg_contours import contours
from nesting_adapters.svg_document import Element
from nesting_adapters.svg_path import Segments, Viewport, diagonal, path_segments, shape_segments
from nesting_adapters.svg_style import is_painted
from nesting_adapters.svg_transform import Matrix
from nesting_adapters.svg_values import length, shortened

FLATTEN_MM = 0.01
FLATTEN_SHARE = 1 / 20_000
"""Curves are flattened to 0.01 mm, or to this share of the page if less: a small drawing may be enlarged."""

OUTSIDE_MM = 0.05
"""So far a contour may leave the page: drawing programs round the page's size."""

LINE_EFFECTS = {
    "stroke-dasharray": "a dashed line", "marker-start": "a marker", "marker-mid": "a marker",
    "marker-end": "a marker",
}  # fmt: skip


@dataclass(frozen=True)
class Place:
    """Where an element's user units lie.

    `matrix` maps them to mm, `viewport` is what 100 % stands for. `clips` are the viewports around
    it that cut off what leaves them, the page first: the map from each to mm, and its extent.
    """

    matrix: Matrix
    viewport: Viewport
    clips: tuple[tuple[Matrix, Viewport], ...]


def painted_shape(element: Element, style: Mapping[str, str], place: Place, most: int) -> Shape | None:
    """Make the shape of a path or basic shape; None if nothing of it is painted.

    Raises
    ------
    ValueError
        If its geometry or paint is not understood, cannot be marked, or has more than `most` points.
    """
    filled = element.tag != "line" and is_painted(style, "fill")
    width = length(style["stroke-width"], diagonal(place.viewport))
    if width < 0:
        raise ValueError("stroke-width is below 0; allowed: 0 and above")
    stroked = width > 0 and is_painted(style, "stroke")  # no width paints no line: SVG 2, section 13.5.3
    segments = _segments(element, place.viewport, most)
    if style["visibility"] != "visible" or not (filled or stroked):
        return None
    if stroked:
        _refuse_line_effects(element.tag, style)
    page = place.clips[0][1]
    tolerance = min(FLATTEN_MM, max(page) * place.clips[0][0].scale * FLATTEN_SHARE)
    found = contours(segments, place.matrix, tolerance, most)
    for clip, extent in place.clips:
        _refuse_leaving(found, clip, extent)
    if not found:
        return None
    return Shape(tuple(found), filled, stroked, _rule(style), width * place.matrix.scale if stroked else 0.0)


def _segments(element: Element, viewport: Viewport, most: int) -> Segments:
    if element.tag == "path":
        return path_segments(element.attributes.get("d", ""), most)
    return shape_segments(element, viewport)


def _rule(style: Mapping[str, str]) -> FillRule:
    rule = style["fill-rule"]
    if rule == "nonzero":
        return "nonzero"
    if rule == "evenodd":
        return "evenodd"
    raise ValueError(f"fill-rule {shortened(rule)} is not understood; allowed: nonzero, evenodd")


def _refuse_line_effects(tag: str, style: Mapping[str, str]) -> None:
    for name, what in LINE_EFFECTS.items():
        takes_markers = tag in ("path", "line", "polyline", "polygon")
        if style[name] != "none" and (takes_markers or name == "stroke-dasharray"):
            raise ValueError(f"{what} ({name}) cannot be marked; convert the stroke to paths")


def _refuse_leaving(found: list[Contour], clip: Matrix, extent: Viewport) -> None:
    """Refuse contours that a viewport would cut off."""
    back = clip.inverse()
    slack = OUTSIDE_MM / clip.scale
    turn = np.array([[back.a, back.b], [back.c, back.d]])
    for contour in found:
        points = contour.flattened(OUTSIDE_MM) @ turn + (back.e, back.f)
        if (points < -slack).any() or (points > np.add(extent, slack)).any():
            raise ValueError("lies outside the page or its viewport, which would cut it off; move it inside")
