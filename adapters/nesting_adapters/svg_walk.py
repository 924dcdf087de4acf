"""Walks through an SVG document and collects its shapes and everything that is wrong with it."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import TypeVar

import shapely

from nesting.errors import InputError, Problem
from nesting.geometry.drawing import Shape
from nesting.geometry.inlay import Inlay
from nesting.geometry.inside import TangleError, inside
from nesting.ports import FontOf
from nesting_adapters.raster_levels import Levels
from nesting_adapters.svg_budget import Budget, ExcessError
from nesting_adapters.svg_clip import Clip
from nesting_adapters.svg_contours import extent
from nesting_adapters.svg_document import Element
from nesting_adapters.svg_image import embedded_levels, inlaid
from nesting_adapters.svg_links import Links
from nesting_adapters.svg_path import SHAPES, Segments, path_segments, shape_segments
from nesting_adapters.svg_shape import Place, clip_shape, followed_shapes, painted_shapes
from nesting_adapters.svg_style import INHERITED, StyleSheet, computed, opacity
from nesting_adapters.svg_text import runs
from nesting_adapters.svg_transform import Matrix, transform
from nesting_adapters.svg_values import length
from nesting_adapters.svg_viewport import inner_place

Value = TypeVar("Value")

MAX_PROBLEMS = 100
VIEWPORT = 200
"""Entering a viewport takes as long as cutting by so many corners."""


IGNORED = frozenset({
    "title", "desc", "metadata", "defs", "style", "symbol", "linearGradient", "radialGradient", "pattern",
    "clipPath", "mask", "filter", "marker", "view", "cursor", "animate", "animateTransform",
    "animateMotion", "animateColor", "set", "mpath", "discard", "font", "font-face", "color-profile",
})  # fmt: skip
ADVICE = {
    "script": "a script is not run; save the drawing without it",
}
EFFECTS = {"mask": "a mask", "filter": "a filter"}


@dataclass(frozen=True)
class Context:
    """What an element takes over from those around it.

    Its place, its style, whose copy it is, how deep it lies, whether it is part of a clip path, and how
    opaque the groups around it are.
    """

    place: Place
    style: Mapping[str, str]
    uses: tuple[Element, ...] = ()
    depth: int = 0
    clips: bool = False
    opaque: float = 1.0


class Walk:
    """One pass through a document; `shapes`, `inlays` and `problems` are what it found."""

    def __init__(self, file: str, root: Element, fonts: FontOf) -> None:
        self.shapes: list[Shape] = []
        self.inlays: list[Inlay] = []
        self.problems: dict[Problem, None] = {}
        self._file, self._fonts = file, fonts
        self._links = Links(root)
        self._budget = Budget()
        self._sheet = StyleSheet(self.report, self._links.parents)
        self._own: dict[Element, dict[str, str] | ValueError] = {}
        self._paths: dict[Element, Segments | ValueError] = {}
        self._moves: dict[Element, Matrix | ValueError] = {}
        self._pixels: dict[Element, Levels | ValueError] = {}
        for element in self._links.elements:
            if element.tag == "style":
                self._sheet.add(element)

    def report(self, element: Element, message: str) -> None:
        """Take down a problem, once."""
        self.problems[Problem(self._file, element.where, message)] = None
        if len(self.problems) >= MAX_PROBLEMS:
            raise InputError([*self.problems, Problem(self._file, "", "perhaps more problems")])

    def run(self, root: Element, place: Place) -> None:
        """Collect everything inside the root."""
        try:
            context = self._styled(root, Context(place, INHERITED))
            if context is not None:
                self._children(root, self._clipped(root, context))
        except ValueError as error:
            if isinstance(error, InputError):
                raise
            self.report(root, str(error))

    def _children(self, element: Element, context: Context | None) -> None:
        for child in element.children if context else ():
            if context and child.tag not in IGNORED:
                self._visit(child, context)

    def _visit(self, element: Element, context: Context) -> None:
        try:
            self._budget.visit(element, context.depth)
            inner = self._styled(element, context)
            if inner is not None:
                self._enter(element, self._clipped(element, self._moved(element, inner)))
        except InputError:
            raise
        except (ExcessError, TangleError) as error:
            self.report(element, str(error))
            raise InputError(self.problems) from error
        except (ValueError, ArithmeticError, shapely.GEOSException) as error:
            self.report(element, str(error))

    def _enter(self, element: Element, context: Context) -> None:
        match element.tag:
            case "g" | "a":
                self._children(element, context)
            case "svg":
                self._budget.cut(VIEWPORT)
                self._children(element, _inside(element, {}, context))
            case "use":
                self._use(element, context)
            case "switch":
                self._switch(element, context)
            case "text":
                self._write(element, context)
            case "image":
                self._show(element, context)
            case tag if tag == "path" or tag in SHAPES:
                self._mark(element, context)
            case tag:
                advice = ADVICE.get(tag, f"<{tag[:40]}> cannot be marked; convert it to paths")
                if context.style["visibility"] == "visible":
                    self.report(element, advice)

    def _mark(self, element: Element, context: Context) -> None:
        segments = self._segments(element, context)
        self._budget.trace(len(segments))
        if context.place.clip is not None:
            self._budget.cut(context.place.clip.size + len(segments))
        where = context.style, context.place, self._budget.points
        found = clip_shape(segments, *where) if context.clips else painted_shapes(element, segments, *where)
        self._take(found)

    def _write(self, element: Element, context: Context) -> None:
        def style_of(inner: Element, style: Mapping[str, str]) -> Mapping[str, str] | None:
            found = self._styled(inner, replace(context, style=style))
            return found.style if found else None

        self._budget.trace(element.letters)
        place, most = context.place, self._budget.points
        for run in runs(element, context.style, style_of, place.viewport, self._fonts):
            self._budget.trace(len(run.segments))
            if place.clip is not None:
                self._budget.cut(place.clip.size + len(run.segments))
            style = {**run.style, "fill-rule": "nonzero", "clip-rule": "nonzero"}
            if not run.filled:
                found = followed_shapes(run.segments, style, place, most)
            elif context.clips:
                found = clip_shape(run.segments, style, place, most)
            else:
                found = painted_shapes(element, run.segments, style, place, most)
            self._take(found)

    def _take(self, found: list[Shape]) -> None:
        self._budget.spend(sum(len(contour.vertices) for shape in found for contour in shape.contours))
        self.shapes += found

    def _show(self, element: Element, context: Context) -> None:
        if context.clips:
            raise ValueError("an image is no part of a clip path; allowed: paths and basic shapes")
        if context.style["visibility"] != "visible":
            return
        levels = _once(self._pixels, element, lambda: embedded_levels(element.attributes.get("href", "")))
        self._budget.show(levels.size)
        if context.place.clip is not None:
            self._budget.cut(context.place.clip.size)
        inlay = inlaid(element, levels, context.place, context.opaque)
        self.inlays += [inlay] if inlay else []

    def _segments(self, element: Element, context: Context) -> Segments:
        viewport = context.place.viewport
        if element.tag == "path":
            data = element.attributes.get("d", "")
            return _once(self._paths, element, lambda: path_segments(data, self._budget.segments))
        if "points" in element.attributes:
            return _once(self._paths, element, lambda: shape_segments(element, viewport))
        return shape_segments(element, viewport)

    def _use(self, element: Element, context: Context) -> None:
        target = self._links.target("use", element.attributes.get("href", ""))
        if target in context.uses or element in context.uses:
            raise ValueError("the element uses itself")
        width, height = context.place.viewport
        at = Matrix(
            e=length(element.attributes.get("x", "0"), width),
            f=length(element.attributes.get("y", "0"), height),
        )
        place = replace(context.place, matrix=context.place.matrix.after(at))
        context = replace(context, place=place, uses=(*context.uses, target))
        if target.tag not in ("svg", "symbol"):
            self._visit(target, context)
            return
        self._budget.visit(target, context.depth)
        self._budget.cut(VIEWPORT)
        inner = self._styled(target, context)
        if inner is not None:
            size = {k: v for k, v in element.attributes.items() if k in ("width", "height")}
            inner = self._clipped(target, self._moved(target, inner))
            self._children(target, _inside(target, size, inner))

    def _switch(self, element: Element, context: Context) -> None:
        """Draw the first child that needs no extension (SVG 2, section 5.8)."""
        for child in element.children:
            if "systemLanguage" in child.attributes:
                raise ValueError("a switch by language has more than one reading; keep the one that is meant")
            if child.tag not in IGNORED and "requiredExtensions" not in child.attributes:
                self._visit(child, context)
                return

    def _styled(self, element: Element, context: Context) -> Context | None:
        """Compute the element's style; None if it is not rendered at all."""
        style = computed(self._own_style(element), context.style)
        opaque = min(opacity(style["opacity"]), 1.0)
        if style["display"] == "none" or opaque <= 0:
            return None
        for name, what in EFFECTS.items():
            if style[name] != "none":
                self.report(element, f"{what} ({name}) cannot be marked; apply it to the paths")
        opaque *= context.opaque
        return Context(context.place, style, context.uses, context.depth + 1, context.clips, opaque)

    def _own_style(self, element: Element) -> dict[str, str]:
        return _once(self._own, element, lambda: self._sheet.own(element))

    def _moved(self, element: Element, context: Context) -> Context:
        if "transform" not in element.attributes:
            return context
        move = _once(self._moves, element, lambda: transform(element.attributes["transform"]))
        matrix = context.place.matrix.after(move)
        if abs(matrix.determinant) < 1e-12:
            raise ValueError("the transform leaves no area; allowed: one that can be undone")
        return replace(context, place=replace(context.place, matrix=matrix))

    def _clipped(self, element: Element, context: Context) -> Context:
        """Narrow what is seen to the element's clip path."""
        written = context.style["clip-path"]
        if written == "none":
            return context
        path = self._links.clip_path(written)
        if path in context.uses:
            raise ValueError("the clip path uses itself")
        place = context.place
        unclipped = replace(place, matrix=self._clip_units(path, element, context), clip=None)
        inner = Context(
            unclipped, self._inherited(path), (*context.uses, path), context.depth + 1, clips=True
        )
        self._budget.visit(path, inner.depth)
        inner = self._clipped(path, self._moved(path, inner))
        kept, self.shapes = self.shapes, []
        for child in path.children:
            if child.tag in ("path", "use", "text", "image", *SHAPES):
                self._visit(child, inner)
        seen, self.shapes = self.shapes, kept
        self._budget.cut(sum(len(contour.vertices) for shape in seen for contour in shape.contours))
        areas = [inside(shape.contours, shape.rule, place.page.tolerance) for shape in seen]
        clip = Clip(shapely.union_all(areas)).also(place.clip)
        self._budget.cut(clip.size)
        return replace(context, place=replace(place, clip=clip))

    def _clip_units(self, path: Element, element: Element, context: Context) -> Matrix:
        """Give the map of a clip path's units, which may be the extent of what it clips."""
        units = path.attributes.get("clipPathUnits", "userSpaceOnUse")
        if units == "userSpaceOnUse":
            return context.place.matrix
        if units != "objectBoundingBox" or (element.tag != "path" and element.tag not in SHAPES):
            raise ValueError("a clip path in units of what it clips is not read here; apply it to the paths")
        return context.place.matrix.after(extent(self._segments(element, context)))

    def _inherited(self, element: Element) -> Mapping[str, str]:
        """Compute the style of an element that is not drawn where it stands."""
        style: Mapping[str, str] = INHERITED
        for each in self._links.lineage(element):
            style = computed(self._own_style(each), style)
        return style


def _once(store: dict[Element, Value | ValueError], element: Element, make: Callable[[], Value]) -> Value:
    """Make what belongs to an element once, however many copies it has; a failure too."""
    if element not in store:
        try:
            store[element] = make()
        except ValueError as error:
            store[element] = error
    found = store[element]
    if isinstance(found, ValueError):
        raise found.with_traceback(None)  # or it would grow with every copy
    return found


def _inside(element: Element, size: Mapping[str, str], context: Context) -> Context | None:
    """Enter a viewport; None if it has no extent."""
    place = inner_place(element, size, context.place, context.style["overflow"])
    return replace(context, place=place) if place else None
