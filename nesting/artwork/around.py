"""Repeats a drawing round a circle."""

from nesting.geometry.contour import Contour
from nesting.geometry.drawing import Drawing, Shape
from nesting.job.job import Around


def repeated(drawing: Drawing, around: Around) -> Drawing:
    """Copy a drawing round (0, 0): the first copy above it, upright, the others clockwise and turned with it.

    The middle of what is drawn lies `around.radius` mm from (0, 0).

    >>> ring = Drawing(2, 2, (Shape((Contour.circle(2, 1, 1),)),))
    >>> [round(v, 6) + 0.0 for v in repeated(ring, Around(4, 9)).bounds]
    [-10.0, -10.0, 10.0, 10.0]
    """
    x0, y0, x1, y1 = drawing.bounds
    x, y = -(x0 + x1) / 2, around.radius - (y0 + y1) / 2

    def copied(contour: Contour, k: int) -> Contour:
        return contour.moved(x, y).moved(turn=-360 * k / around.count)

    shapes = tuple(
        Shape(tuple(copied(c, k) for c in s.contours), s.filled, s.stroked, s.rule, s.width)
        for k in range(around.count)
        for s in drawing.shapes
    )
    return Drawing(drawing.width, drawing.height, shapes)
