"""Viewports of SVG: the page, nested ``<svg>`` elements and used symbols (SVG 2, sections 8.2 to 8.6)."""

from collections.abc import Mapping
from dataclasses import replace

from nesting_adapters.svg_clip import Clip
from nesting_adapters.svg_document import Element
from nesting_adapters.svg_shape import Page, Place
from nesting_adapters.svg_transform import Matrix, view_box, view_box_map
from nesting_adapters.svg_values import MM_PER_PX, length

FLATTEN_SHARE = 1 / 20_000
"""Curves are kept to this share of the page, if that is less than stated: a small drawing may be enlarged."""


def page_place(root: Element, tolerance: float) -> tuple[Place, bool]:
    """Give the place of everything inside the root, and tell whether the drawing states its size.

    Raises
    ------
    ValueError
        If the size is missing, no length or not above 0.
    """
    attributes = root.attributes
    if "transform" in attributes:
        raise ValueError("a transform of the whole page is not read; put it on a group inside")
    width, height, stated = _page_size(root)
    page = Page(width, height, min(tolerance, max(width, height) * MM_PER_PX * FLATTEN_SHARE))
    place = Place(page, page.to_mm, (width, height))
    if "viewBox" not in attributes:
        return place, stated
    return _fitted(root, place, page.to_mm, width, height, cuts="slice" in _ratio(root)), stated


def inner_place(element: Element, size: Mapping[str, str], place: Place, overflow: str) -> Place | None:
    """Enter a nested ``<svg>`` or a used ``<symbol>``; None if it has no extent.

    Raises
    ------
    ValueError
        If its size is no length or below 0.
    """
    attributes = {"width": "100%", "height": "100%", **element.attributes, **size}
    x, y, width, height = (
        length(attributes.get(key, "0").replace("auto", "100%"), place.viewport[key in ("y", "height")])
        for key in ("x", "y", "width", "height")
    )
    if width < 0 or height < 0:
        raise ValueError("width or height is below 0; allowed: 0 and above")
    if width == 0 or height == 0:
        return None
    frame = place.matrix.after(Matrix(e=x, f=y))
    return _fitted(element, place, frame, width, height, cuts=overflow not in ("visible", "auto"))


def _fitted(element: Element, place: Place, frame: Matrix, width: float, height: float, cuts: bool) -> Place:
    """Fit what is inside an element into its viewport, which `frame` maps to mm."""
    clip = Clip.viewport(frame, width, height).also(place.clip) if cuts else place.clip
    if "viewBox" not in element.attributes:
        return replace(place, matrix=frame, viewport=(width, height), clip=clip)
    box = view_box(element.attributes["viewBox"])
    matrix = frame.after(view_box_map(box, _ratio(element), width, height))
    return replace(place, matrix=matrix, viewport=box[2:], clip=clip)


def _ratio(element: Element) -> str:
    return element.attributes.get("preserveAspectRatio", "xMidYMid")


def _page_size(root: Element) -> tuple[float, float, bool]:
    """Width and height of the page in CSS px, and whether either is stated.

    One that is left out follows from the viewBox. If both are, a unit of the viewBox is a px.
    """
    stated = {k: root.attributes.get(k, "auto").strip() for k in ("width", "height")}
    # a share of nothing in particular is no size either
    read = {k: length(v, None) for k, v in stated.items() if v != "auto" and not v.endswith("%")}
    is_stated = bool(read)
    box = view_box(root.attributes["viewBox"]) if "viewBox" in root.attributes else None
    if box is None and len(read) < 2:
        raise ValueError(
            'the drawing has no size; allowed: a viewBox, or width and height, such as width="40mm"'
        )
    if box is not None:
        if not read:
            read["width"] = box[2]
        read.setdefault("width", read.get("height", 0.0) * box[2] / box[3])
        read.setdefault("height", read["width"] * box[3] / box[2])
    if min(read.values()) <= 0:
        raise ValueError("the drawing has a width or height of 0 or less; allowed: above 0")
    return read["width"], read["height"], is_stated
