"""Pictures in drawings: outlines of what is dark in them, or dots."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import shapely

from nesting.errors import InputError
from nesting.geometry.drawing import Drawing, Shape
from nesting.geometry.inlaid import FINE_MM, outlines_there, seen, upright
from nesting.geometry.inside import inside
from nesting.geometry.picture import Picture
from nesting.job.job import Dither, Dots
from nesting.ports import PictureReader, Tracing

MOST_OUTLINES = 20_000
"""So many outlines may the pictures of a drawing have."""


def inverted(drawing: Drawing) -> Drawing:
    """Swap dark and light in a drawing's pictures."""
    inlays = (replace(inlay, picture=_swapped(inlay.picture)) for inlay in drawing.inlays)
    return replace(drawing, inlays=tuple(inlays))


def traced(drawing: Drawing, tracing: Tracing, reader: PictureReader, path: Path) -> Drawing:
    """Put outlines in the place of a drawing's pictures; `path` is for messages.

    Raises
    ------
    nesting.errors.InputError
        If a picture has none, or too many.
    """
    found: list[Shape] = []
    left = MOST_OUTLINES
    for inlay in drawing.inlays:
        outlines = reader.trace(inlay.picture, tracing, path).shapes
        left -= sum(len(outline.contours) for outline in outlines)
        if left < 0:
            message = (
                f"its pictures have more than {MOST_OUTLINES:,} outlines; drop specks, or sweep them as dots"
            )
            raise InputError.single(message, file=str(path))
        found += [shape for outline in outlines if (shape := outlines_there(inlay, outline)) is not None]
    return replace(drawing, shapes=(*drawing.shapes, *found), inlays=())


def dots_in(drawing: Drawing, dither: Dither, threshold: float) -> Iterator[Dots]:
    """Make dots of a drawing's pictures, where neither its areas nor a later picture cover them.

    Raises
    ------
    nesting.geometry.inside.TangleError
        If the areas cross each other too often.
    """
    if not drawing.inlays:
        return
    filled = [inside(shape.contours, shape.rule, FINE_MM) for shape in drawing.shapes if shape.filled]
    hidden = shapely.union_all(filled)
    made: list[Dots] = []
    for inlay in reversed(drawing.inlays):
        found = upright(inlay, hidden)
        hidden = hidden | seen(inlay)
        if found:
            made.append(Dots(found[0], dither, threshold, *found[1:]))
    yield from reversed(made)


def _swapped(picture: Picture) -> Picture:
    return Picture.of(255 - picture.levels, picture.width, picture.height)
