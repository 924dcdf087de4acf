"""What viewports and clip paths cut off."""

import math
from dataclasses import dataclass
from functools import cached_property

import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from nesting.geometry.drawing import Shape
from nesting.geometry.inside import as_contours, inside
from nesting.geometry.stroke import covered
from nesting_adapters.svg_transform import Matrix

OUTSIDE_MM = 0.05
"""So far a contour may leave the page or a viewport: drawing programs round sizes."""


@dataclass(frozen=True)
class Clip:
    """The area in mm on the page inside which shapes are seen.

    `framed` tells that only viewports bound it, no clip path: like the page's edge they cut no line that
    runs along them, though half its width lies outside.
    """

    area: BaseGeometry
    framed: bool = False

    @classmethod
    def viewport(cls, matrix: Matrix, width: float, height: float) -> "Clip":
        """Make the rectangle of a viewport, which `matrix` maps to mm."""
        corners = (0j, complex(width), complex(width, height), complex(0, height))
        return cls(Polygon([(at.real, at.imag) for at in map(matrix.point, corners)]), framed=True)

    def also(self, other: "Clip | None") -> "Clip":
        """Give what is inside both."""
        if other is None:
            return self
        return Clip(shapely.intersection(self.area, other.area), self.framed and other.framed)

    @property
    def size(self) -> int:
        """So many corners it has."""
        return int(shapely.get_num_coordinates(self.area))

    @cached_property
    def _edge(self) -> BaseGeometry:
        return self.area.buffer(OUTSIDE_MM, join_style="mitre") if self.framed else self.area

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """The box round it; for one that shows nothing, a box without an inside."""
        if self.area.is_empty:
            return (math.inf, math.inf, -math.inf, -math.inf)
        left, bottom, right, top = self.area.bounds
        return left, bottom, right, top

    def cut(self, shape: Shape, tolerance: float) -> Shape | None:
        """Cut a shape; None if nothing is left.

        A shape that is seen whole stays as it is, arcs and all. Otherwise what is left of its inside
        and of what its line covers becomes one area, for a cut line no longer ends as it did.

        Raises
        ------
        TangleError
            If its lines cross each other too often.
        """
        if shapely.covers(self._edge, shapely.box(*_reach(shape, not self.framed))):
            return shape
        box = shapely.box(*_reach(shape, width=True))
        if not shapely.intersects(self.area, box):
            return None
        area = covered(shape, tolerance) if shape.stroked else Polygon()
        if shape.filled:
            area = shapely.union(area, inside(shape.contours, shape.rule, tolerance))
        left = as_contours(shapely.intersection(area, self.area), tolerance**2)
        return Shape(left, filled=True, stroked=False, rule="evenodd") if left else None


def _reach(shape: Shape, width: bool) -> tuple[float, float, float, float]:
    """Give a box round everything a shape marks, with or without the width of its line."""
    boxes = [contour.bounds for contour in shape.contours]
    beyond = 0.0
    if shape.stroked and width:
        nib = max(map(abs, shape.pen.nib)) * 2
        beyond = shape.width / 2 * nib * max(shape.pen.miter if shape.pen.join == "miter" else 1.0, 1.5)
    left, bottom, right, top = (list(column) for column in zip(*boxes, strict=True))
    return min(left) - beyond, min(bottom) - beyond, max(right) + beyond, max(top) + beyond
