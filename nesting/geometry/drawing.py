"""A drawing: filled and stroked shapes and pictures in millimetres, whatever file they came from."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from nesting.geometry.contour import Contour
from nesting.geometry.inlay import Inlay

FillRule = Literal["nonzero", "evenodd"]
Cap = Literal["butt", "round", "square"]
Join = Literal["miter", "round", "bevel"]


@dataclass(frozen=True)
class Pen:
    """What a line with a width looks like (SVG 2, section 13.5).

    Attributes
    ----------
    cap, join
        How its ends and its corners are formed.
    miter
        A corner whose tip would lie further out than this, as a multiple of the width, is cut off.
    nib
        The linear map ``(a, b, c, d)``: x' = a x + c y, y' = b x + d y that has stretched a round nib, as
        wide as the line on the mean.
    """

    cap: Cap = "butt"
    join: Join = "miter"
    miter: float = 4.0
    nib: tuple[float, float, float, float] = (1.0, 0.0, 0.0, 1.0)


@dataclass(frozen=True)
class Shape:
    """One shape of a drawing.

    Attributes
    ----------
    contours
        Its outlines and lines; y points up.
    filled, stroked
        Whether its inside and its line are to be marked.
    rule
        The fill rule of the SVG standard that says what is inside.
    width
        Line width in mm; 0 for the thinnest line the beam gives.
    pen
        How the line is formed where it is marked in its width.
    """

    contours: tuple[Contour, ...]
    filled: bool = False
    stroked: bool = True
    rule: FillRule = "nonzero"
    width: float = 0.0
    pen: Pen = Pen()


@dataclass(frozen=True)
class Drawing:
    """Shapes on a page of `width` x `height` mm, the page's lower left corner at (0, 0).

    `sized` tells whether its file states the size, or only the proportions. `inlays` are pictures of
    pixels among the shapes, later ones on top of earlier ones; a job makes outlines or dots of them.
    """

    width: float
    height: float
    shapes: tuple[Shape, ...]
    sized: bool = True
    inlays: tuple[Inlay, ...] = ()

    @property
    def contours(self) -> tuple[Contour, ...]:
        """Every contour of every shape, in the drawing's order."""
        return tuple(contour for shape in self.shapes for contour in shape.contours)

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """``(min x, min y, max x, max y)`` in mm of what is drawn, line widths included."""
        boxes = [_grown(c.bounds, s.width / 2 if s.stroked else 0) for s in self.shapes for c in s.contours]
        return joint_bounds(boxes)


def joint_bounds(boxes: Iterable[tuple[float, float, float, float]]) -> tuple[float, float, float, float]:
    """Smallest box round boxes; all zero for none.

    >>> joint_bounds([(0, 0, 1, 1), (2, -1, 3, 0)])
    (0, -1, 3, 1)
    """
    columns = list(zip(*boxes, strict=True))
    if not columns:
        return 0.0, 0.0, 0.0, 0.0
    return min(columns[0]), min(columns[1]), max(columns[2]), max(columns[3])


def _grown(box: tuple[float, float, float, float], by: float) -> tuple[float, float, float, float]:
    return box[0] - by, box[1] - by, box[2] + by, box[3] + by
