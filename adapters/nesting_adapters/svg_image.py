"""Pictures of pixels inside an SVG drawing (SVG 2, section 12.2)."""

import base64
import binascii
import math
import re
from io import BytesIO
from pathlib import Path

import numpy as np
import shapely

from nesting.errors import InputError
from nesting.geometry.contour import Contour
from nesting.geometry.inlay import Inlay
from nesting.geometry.inside import as_contours
from nesting.geometry.picture import Picture
from nesting_adapters.raster_levels import Levels, grey_levels
from nesting_adapters.svg_clip import Clip
from nesting_adapters.svg_document import Element
from nesting_adapters.svg_shape import Place, refuse_leaving
from nesting_adapters.svg_transform import Matrix, view_box_map
from nesting_adapters.svg_values import length, shortened

_DATA = re.compile(r"\s*data:image/(png|jpe?g|bmp|x-ms-bmp)(?:;[^;,]{0,100}){0,5}?;base64,", re.IGNORECASE)
_ESCAPED = {"%2B": "+", "%2F": "/", "%3D": "=", "%2b": "+", "%2f": "/", "%3d": "="}
"""Signs of base64 that links may write by their codes (RFC 3986)."""

ALLOWED = "a picture inside the file, data:image/png;base64,... (or jpeg, bmp)"


def embedded_levels(link: str) -> Levels:
    """Decode a ``data:`` link (RFC 2397) to grey levels, the top row first.

    Raises
    ------
    ValueError
        If the link leads out of the file, or to no picture that is read.
    """
    head = _DATA.match(link[:1000])
    if head is None:
        raise ValueError(f"found {shortened(link.strip())}; allowed: {ALLOWED}")
    written = "".join(link[head.end() :].split())
    for code, sign in _ESCAPED.items():
        written = written.replace(code, sign)
    try:
        content = base64.b64decode(written, validate=True)
    except (binascii.Error, ValueError) as error:
        raise ValueError(f"the image is no base64: {error}") from None
    try:
        return grey_levels(BytesIO(content), Path(f"image.{head[1].lower()}"))[0]
    except InputError as error:
        raise ValueError("; ".join(problem.message for problem in error.problems)) from None


def inlaid(element: Element, levels: Levels, place: Place, opaque: float) -> Inlay | None:
    """Lay a picture into its viewport; None if it has no extent there or nothing of it is seen.

    Raises
    ------
    ValueError
        If the viewport or the fit is not understood, or the page would cut the picture off.
    """
    rows, columns = levels.shape
    x, y, width, height = _viewport(element, place, columns, rows)
    if width == 0 or height == 0:
        return None
    ratio = element.attributes.get("preserveAspectRatio", "xMidYMid")
    frame = place.matrix.after(Matrix(e=x, f=y))
    to_mm = frame.after(view_box_map((0, 0, columns, rows), ratio, width, height))
    clip = Clip.viewport(frame, width, height).also(place.clip) if "slice" in ratio else place.clip
    corners = [to_mm.point(at) for at in (0j, complex(columns), complex(columns, rows), complex(0, rows))]
    edge = Contour.polyline([(at.real, at.imag) for at in corners])
    refuse_leaving([edge], [], Place(place.page, place.matrix, place.viewport, clip))
    seen = _seen(edge, clip)
    if seen is None:
        return None
    faded = 255 - np.rint((255 - levels) * opaque).astype(np.uint8)
    wide, high = math.hypot(to_mm.a, to_mm.b), math.hypot(to_mm.c, to_mm.d)
    at = corners[3]
    turned = (to_mm.a / wide, to_mm.b / wide, -to_mm.c / high, -to_mm.d / high, at.real, at.imag)
    return Inlay(Picture.of(faded, wide * columns, high * rows), turned, seen)


def _viewport(element: Element, place: Place, columns: int, rows: int) -> tuple[float, float, float, float]:
    """Give x, y, width and height in user units; one left out follows from the picture's pixels."""
    read: dict[str, float] = {}
    for key, whole in zip(("x", "y", "width", "height"), place.viewport * 2, strict=True):
        written = element.attributes.get(key, "auto").strip()
        if written != "auto":
            read[key] = length(written, whole)
    if not read.keys() & {"width", "height"}:
        read |= {"width": float(columns), "height": float(rows)}
    read.setdefault("width", read.get("height", 0.0) * columns / rows)
    read.setdefault("height", read["width"] * rows / columns)
    if min(read["width"], read["height"]) < 0:
        raise ValueError("width or height is below 0; allowed: 0 and above")
    return read.get("x", 0.0), read.get("y", 0.0), read["width"], read["height"]


def _seen(edge: Contour, clip: Clip | None) -> tuple[Contour, ...] | None:
    """Outline what a clip leaves of a picture, nothing where that is all of it; None if it leaves nothing."""
    frame = shapely.Polygon(edge.points)
    if clip is None or shapely.covers(clip.area, frame):
        return ()
    return as_contours(shapely.intersection(clip.area, frame), 0.0) or None
