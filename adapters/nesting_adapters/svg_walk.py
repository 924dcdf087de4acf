"""Walks through an SVG document and collects its shapes and everything that is wrong with it."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from nesting.errors import InputError, Problem
from nesting.geometry.drawing import Shape
from nesting_adapters.svg_document import MAX_DEPTH, MAX_ELEMENTS, Element
from nesting_adapters.svg_path import MAX_POINTS, SHAPES
from nesting_adapters.svg_shape import Place, painted_shape
from nesting_adapters.svg_style import INHERITED, StyleSheet, computed, opacity
from nesting_adapters.svg_transform import Matrix, transform, view_box, view_box_map
from nesting_adapters.svg_values import length, shortened

MAX_CHARACTERS = 40_000_000
MAX_PROBLEMS = 100
MAX_CLIPS = 10
CHARACTERS_A_POINT = 10

IGNORED = frozenset({
    "title", "desc", "metadata", "defs", "style", "symbol", "linearGradient", "radialGradient", "pattern",
    "clipPath", "mask", "filter", "marker", "view", "cursor", "animate", "animateTransform",
    "animateMotion", "animateColor", "set", "mpath", "discard", "font", "font-face", "color-profile",
})  # fmt: skip
ADVICE = {
    "text": "text cannot be marked as it is; convert text to paths",
    "image": "an image cannot be marked; trace it to paths",
    "switch": "a switch has more than one reading; keep the one that is meant",
    "script": "a script is not run; save the drawing without it",
}
EFFECTS = {"clip-path": "a clip path", "mask": "a mask", "filter": "a filter"}


@dataclass(frozen=True)
class Context:
    """What an element takes over from those around it: its place, its style, and whose copy it is."""

    place: Place
    style: Mapping[str, str]
    uses: tuple[Element, ...] = ()
    depth: int = 0


class Walk:
    """One pass through a document; `shapes` and `problems` are what it found."""

    def __init__(self, file: str, root: Element) -> None:
        self.shapes: list[Shape] = []
        self.problems: dict[Problem, None] = {}
        self._file = file
        self._ids: dict[str, Element] = {}
        self._own: dict[Element, dict[str, str]] = {}
        self._sheet = StyleSheet(self.report)
        self._visits = self._characters = 0
        self._points_left = MAX_POINTS
        for element in _everything(root):
            self._ids.setdefault(element.attributes.get("id", ""), element)
            if element.tag == "style":
                self._sheet.add(element)

    def report(self, element: Element, message: str) -> None:
        """Take down a problem, once."""
        self.problems[Problem(self._file, element.where, message)] = None
        if len(self.problems) >= MAX_PROBLEMS:
            raise InputError([*self.problems, Problem(self._file, "", "perhaps more problems")])

    def run(self, root: Element, page: Place) -> None:
        """Collect everything inside the root."""
        try:
            context = self._styled(root, Context(page, INHERITED))
        except ValueError as error:
            self.report(root, str(error))
        else:
            self._children(root, context)

    def _children(self, element: Element, context: Context | None) -> None:
        for child in element.children if context else ():
            if context and child.tag not in IGNORED:
                self._visit(child, context)

    def _visit(self, element: Element, context: Context) -> None:
        self._charge(element, context)
        try:
            inner = self._styled(element, context)
            if inner is not None:
                self._enter(element, _transformed(element, inner))
        except InputError:
            raise
        except (ValueError, ArithmeticError) as error:
            self.report(element, str(error))

    def _enter(self, element: Element, context: Context) -> None:
        match element.tag:
            case "g" | "a":
                self._children(element, context)
            case "svg":
                self._children(element, _in_viewport(element, {}, context))
            case "use":
                self._use(element, context)
            case tag if tag == "path" or tag in SHAPES:
                self._mark(element, context)
            case tag:
                advice = ADVICE.get(tag, f"<{tag[:40]}> cannot be marked; convert it to paths")
                if context.style["visibility"] == "visible":
                    self.report(element, advice)

    def _mark(self, element: Element, context: Context) -> None:
        shape = painted_shape(element, context.style, context.place, self._points_left)
        points = sum(len(contour.vertices) for contour in shape.contours) if shape else 0
        # path data take time to read even where they draw nothing
        self._points_left -= max(points, len(element.attributes.get("d", "")) // CHARACTERS_A_POINT)
        if shape is not None:
            self.shapes.append(shape)

    def _use(self, element: Element, context: Context) -> None:
        target = self._target(element)
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
        self._charge(target, context)
        inner = self._styled(target, context)
        if inner is not None:
            size = {k: v for k, v in element.attributes.items() if k in ("width", "height")}
            self._children(target, _in_viewport(target, size, _transformed(target, inner)))

    def _target(self, element: Element) -> Element:
        link = element.attributes.get("href", "").strip()
        if not link.startswith("#"):
            raise ValueError(f"use refers to {shortened(link)}; allowed: #id of an element of this file")
        target = self._ids.get(link[1:])
        if target is None:
            raise ValueError(f"use refers to {shortened(link)}, which is not in this file")
        return target

    def _styled(self, element: Element, context: Context) -> Context | None:
        """Compute the element's style; None if it is not rendered at all."""
        own = self._own.get(element)
        if own is None:
            own = self._own[element] = self._sheet.own(element)
        style = computed(own, context.style)
        if style["display"] == "none" or opacity(style["opacity"]) <= 0:
            return None
        for name, what in EFFECTS.items():
            if style[name] != "none":
                self.report(element, f"{what} ({name}) cannot be marked; apply it to the paths")
        return replace(context, style=style, depth=context.depth + 1)

    def _charge(self, element: Element, context: Context) -> None:
        """Keep what a small file can ask for, by elements that use each other, within bounds."""
        self._visits += 1
        self._characters += sum(map(len, element.attributes.values()))
        over = {
            f"more than {MAX_ELEMENTS} elements once copies (use) are counted": self._visits > MAX_ELEMENTS,
            f"more than {MAX_CHARACTERS} characters once copies (use) are counted": (
                self._characters > MAX_CHARACTERS
            ),
            f"nested deeper than {MAX_DEPTH} elements": context.depth > MAX_DEPTH,
        }
        for message, is_over in over.items():
            if is_over:
                self.report(element, message)
                raise InputError(self.problems)


def _everything(root: Element) -> Iterator[Element]:
    waiting = [root]
    while waiting:
        element = waiting.pop()
        yield element
        waiting.extend(reversed(element.children))


def _transformed(element: Element, context: Context) -> Context:
    if "transform" not in element.attributes:
        return context
    matrix = context.place.matrix.after(transform(element.attributes["transform"]))
    if abs(matrix.determinant) < 1e-12:
        raise ValueError("the transform leaves no area; allowed: one that can be undone")
    return replace(context, place=replace(context.place, matrix=matrix))


def _in_viewport(element: Element, size: Mapping[str, str], context: Context) -> Context | None:
    """Enter a nested ``<svg>`` or a used ``<symbol>``; None if it has no extent."""
    attributes = {"width": "100%", "height": "100%", **element.attributes, **size}
    place = context.place
    x, y, width, height = (
        length(attributes.get(key, "0").replace("auto", "100%"), place.viewport[key in ("y", "height")])
        for key in ("x", "y", "width", "height")
    )
    if width < 0 or height < 0:
        raise ValueError("width or height is below 0; allowed: 0 and above")
    if width == 0 or height == 0:
        return None
    frame = place.matrix.after(Matrix(e=x, f=y))
    matrix, viewport, clips = frame, (width, height), place.clips
    if "viewBox" in attributes:
        box = view_box(attributes["viewBox"])
        ratio = attributes.get("preserveAspectRatio", "xMidYMid")
        matrix, viewport = frame.after(view_box_map(box, ratio, width, height)), box[2:]
    if len(clips) > MAX_CLIPS:
        raise ValueError(f"more than {MAX_CLIPS} viewports inside each other")
    if context.style["overflow"] not in ("visible", "auto"):
        clips = (*clips, (frame, (width, height)))
    return replace(context, place=Place(matrix, viewport, clips))
