"""Reads SVG drawings as artwork: what is filled or stroked, in millimetres, y up."""

from pathlib import Path

from nesting.errors import InputError
from nesting.geometry.drawing import Drawing
from nesting_adapters.svg_document import Element, read_document
from nesting_adapters.svg_shape import Place
from nesting_adapters.svg_transform import Matrix, view_box, view_box_map
from nesting_adapters.svg_values import MM_PER_PX, length
from nesting_adapters.svg_walk import Walk


class SvgReader:
    """Reads SVG (W3C SVG 2, static shapes).

    Every paint marks, whatever its colour, white too; ``none`` and full transparency do not. What
    cannot be marked (text, images, gradients, clipping, dashes, ...) is an error, never left out.
    """

    suffixes = (".svg",)

    def read(self, path: Path) -> Drawing:
        """Read a drawing in true size.

        Raises
        ------
        nesting.errors.InputError
            With every problem found, each with line and element, if the file is not there, is no
            SVG drawing, cannot be marked or is not safe.
        """
        root = read_document(Path(path))
        walk = Walk(str(path), root)
        try:
            width, height = page_size(root)
            page = _page(root, width, height)
        except ValueError as error:
            walk.report(root, str(error))
        else:
            walk.run(root, page)
            if not walk.shapes and not walk.problems:
                walk.report(root, "nothing is filled or stroked; allowed: a drawing with something to mark")
        if walk.problems:
            raise InputError(walk.problems)
        return Drawing(round(width * MM_PER_PX, 9), round(height * MM_PER_PX, 9), tuple(walk.shapes))


def page_size(root: Element) -> tuple[float, float]:
    """Width and height of the page in CSS px; one that is left out follows from the viewBox."""
    stated = {k: root.attributes.get(k, "auto").strip() for k in ("width", "height")}
    # a share of nothing in particular is no size either
    read = {k: length(v, None) for k, v in stated.items() if v != "auto" and not v.endswith("%")}
    box = view_box(root.attributes["viewBox"]) if "viewBox" in root.attributes else None
    if not read or (len(read) == 1 and box is None):
        raise ValueError(
            'the drawing has no size; allowed: width and height, such as width="40mm" height="20mm"'
        )
    if box is not None:
        read.setdefault("width", read.get("height", 0.0) * box[2] / box[3])
        read.setdefault("height", read["width"] * box[3] / box[2])
    if min(read.values()) <= 0:
        raise ValueError("the drawing has a width or height of 0 or less; allowed: above 0")
    return read["width"], read["height"]


def _page(root: Element, width: float, height: float) -> Place:
    """Everything inside the root: its viewBox fitted to the page, px to mm, y flipped."""
    attributes = root.attributes
    if "transform" in attributes:
        raise ValueError("a transform of the whole page is not read; put it on a group inside")
    to_mm = Matrix(a=MM_PER_PX, d=-MM_PER_PX, f=height * MM_PER_PX)
    viewport = (width, height)
    matrix = to_mm
    if "viewBox" in attributes:
        box = view_box(attributes["viewBox"])
        ratio = attributes.get("preserveAspectRatio", "xMidYMid")
        matrix, viewport = to_mm.after(view_box_map(box, ratio, width, height)), box[2:]
    return Place(matrix, viewport, ((to_mm, (width, height)),))
