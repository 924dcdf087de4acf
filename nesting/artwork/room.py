"""What is drawn, and the room a mark area leaves for it."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Protocol

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from nesting.geometry.contour import Contour, Points
from nesting.geometry.drawing import Drawing, Shape
from nesting.geometry.region import Region

FINE_MM = 0.005
"""Arcs of a mark area are flattened inwards to this."""

FINE_SHARE = 1e-5
"""Arcs of a drawing are flattened to this share of its extent, for it may still be scaled."""

TINY_MM = 1e-6
"""An inset below this is rounding."""

BETTER = 1.01
"""The drawing leaves the middle of the area's extent only for a scale this much larger."""

_QUARTER = 16
_OUTSIDE = 1 / math.cos(math.pi / (4 * _QUARTER))
"""A round buffer of shapely lies inside the true one; this much more radius puts it outside."""

_HALVINGS = 48

_ROUNDING = 1e-9

Point = tuple[float, float]


@dataclass(frozen=True)
class Drawn:
    """The extent of a turned drawing, line widths included.

    `middle` is the middle of its bounds in mm, `hull` the corners of its convex hull seen from there.
    """

    middle: Point
    width: float
    height: float
    hull: Points

    @classmethod
    def of(cls, drawing: Drawing, turn: float, mirrored: bool = False) -> "Drawn":
        """Measure a drawing that is mirrored in the y axis if asked, then turned by `turn` degrees."""
        shapes = _turned(drawing, turn, mirrored)
        x0, y0, x1, y1 = Drawing(drawing.width, drawing.height, shapes).bounds
        middle = (x0 + x1) / 2, (y0 + y1) / 2
        fine = FINE_SHARE * max(x1 - x0, y1 - y0)
        corners = [_corners(shape, fine) for shape in shapes if shape.contours and fine > 0]
        hull = shapely.MultiPoint(np.vstack(corners)).convex_hull if corners else shapely.Point(middle)
        return cls(middle, x1 - x0, y1 - y0, shapely.get_coordinates(hull) - middle)

    @classmethod
    def around(cls, area: BaseGeometry) -> "Drawn":
        """Measure an area."""
        x0, y0, x1, y1 = area.bounds
        middle = (x0 + x1) / 2, (y0 + y1) / 2
        return cls(middle, x1 - x0, y1 - y0, shapely.get_coordinates(area.convex_hull) - middle)


def _turned(drawing: Drawing, turn: float, mirrored: bool) -> tuple[Shape, ...]:
    def turned(contour: Contour) -> Contour:
        return (contour.mirrored() if mirrored else contour).moved(turn=turn)

    return tuple(replace(shape, contours=tuple(map(turned, shape.contours))) for shape in drawing.shapes)


def _corners(shape: Shape, fine: float) -> Points:
    points = np.vstack([contour.flattened(fine) for contour in shape.contours])
    grow = fine + (shape.width / 2 if shape.stroked else 0.0)
    hull = shapely.MultiPoint(points).convex_hull.buffer(grow * _OUTSIDE, quad_segs=_QUARTER)
    return shapely.get_coordinates(hull)


class Room(Protocol):
    """Where drawings may go: `largest` gives a middle and the largest scale there."""

    @property
    def area(self) -> Polygon | MultiPolygon:
        """All of it."""

    def largest(self, drawn: Drawn) -> tuple[Point, float]:
        """Find the middle round which the drawing gets largest, and how large."""

    def aligned(self, drawn: Drawn, scale: float, middle: Point, shares: Point) -> Point:
        """Move the drawing's middle from one that fits towards an alignment, as far as fits.

        `shares` says how much of the spare width and height is left of and below the drawing.
        """

    def fits(self, drawn: Drawn, scale: float, middle: Point) -> bool:
        """Tell whether the drawing lies inside with its middle there."""


@dataclass(frozen=True)
class Box:
    """A rectangle along the axes: everything is exact."""

    x0: float
    y0: float
    x1: float
    y1: float

    @property
    def area(self) -> Polygon:
        """The rectangle."""
        return shapely.box(self.x0, self.y0, self.x1, self.y1)

    def largest(self, drawn: Drawn) -> tuple[Point, float]:
        """Fill the tighter of the two directions."""
        sides = ((self.x1 - self.x0, drawn.width), (self.y1 - self.y0, drawn.height))
        scale = min(room / need for room, need in sides if need > 0)
        return ((self.x0 + self.x1) / 2, (self.y0 + self.y1) / 2), scale

    def aligned(self, drawn: Drawn, scale: float, middle: Point, shares: Point) -> Point:
        """Share out the spare width and height."""
        del middle
        width, height = drawn.width * scale, drawn.height * scale
        return (
            self.x0 + width / 2 + shares[0] * (self.x1 - self.x0 - width),
            self.y0 + height / 2 + shares[1] * (self.y1 - self.y0 - height),
        )

    def fits(self, drawn: Drawn, scale: float, middle: Point) -> bool:
        """Compare the extents."""
        width, height = drawn.width * scale / 2 - TINY_MM, drawn.height * scale / 2 - TINY_MM
        return (
            self.x0 <= middle[0] - width
            and middle[0] + width <= self.x1
            and self.y0 <= middle[1] - height
            and middle[1] + height <= self.y1
        )


@dataclass(frozen=True)
class Field:
    """An area of any outline; the convex hull of the drawing stays inside."""

    area: Polygon | MultiPolygon

    def largest(self, drawn: Drawn) -> tuple[Point, float]:
        """Grow the drawing round the middle of the extent, or round the widest place if that is better."""
        box = Box(*self.area.bounds)
        middle, most = box.largest(drawn)
        fine = max(box.x1 - box.x0, box.y1 - box.y0) / 1000
        widest = shapely.get_coordinates(shapely.maximum_inscribed_circle(self.area, tolerance=fine))[0]
        choices = [middle, (float(widest[0]), float(widest[1]))]
        scales = [most * last(partial(self._grown_fits, drawn, most, at)) for at in choices]
        best = 1 if scales[1] > scales[0] * BETTER else 0
        return choices[best], scales[best]

    def aligned(self, drawn: Drawn, scale: float, middle: Point, shares: Point) -> Point:
        """Go from the middle towards the aligned place of the extent."""
        goal = Box(*self.area.bounds).aligned(drawn, scale, middle, shares)
        share = last(lambda k: self.fits(drawn, scale, _between(middle, goal, k)))
        return _between(middle, goal, share)

    def _grown_fits(self, drawn: Drawn, most: float, middle: Point, share: float) -> bool:
        return self.fits(drawn, share * most, middle)

    def fits(self, drawn: Drawn, scale: float, middle: Point) -> bool:
        """Put the hull where it would lie."""
        return bool(self.area.covers(shapely.MultiPoint(drawn.hull * scale + middle).convex_hull))


def room_in(area: Region, inset: float, margins: Sequence[float] = (0, 0, 0, 0)) -> Room | None:
    """Take `inset` mm off a mark area all round, and margins off its extent; None if nothing is left.

    `margins` are those left, below, right and above, in mm.
    """
    x0, y0, x1, y1 = area.bounds
    left, below, right, above = (inset + margin for margin in margins)
    box = Box(x0 + left, y0 + below, x1 - right, y1 - above)
    if min(box.x1 - box.x0, box.y1 - box.y0) <= 0:
        return None
    if area.is_rectangle:
        return box
    shape: BaseGeometry = area.shape("inner", FINE_MM)
    if inset > TINY_MM:
        shape = shape.buffer(-inset * _OUTSIDE, quad_segs=_QUARTER)
    if any(margins):
        shape = shape & shapely.box(box.x0, box.y0, box.x1, box.y1)
    if shape.is_empty or not isinstance(shape, Polygon | MultiPolygon):
        return None
    shapely.prepare(shape)
    return Field(shape)


def cover_of(drawing: Drawing, turn: float, mirrored: bool) -> Room | None:
    """Give the convex hull of a turned drawing, line widths left out, as a room; None if it has no area."""
    shapes = [shape for shape in _turned(drawing, turn, mirrored) if shape.contours]
    if not shapes:
        return None
    x0, y0, x1, y1 = drawing.bounds
    fine = FINE_SHARE * max(x1 - x0, y1 - y0, TINY_MM)
    points = np.vstack([contour.flattened(fine) for shape in shapes for contour in shape.contours])
    hull = shapely.MultiPoint(points).convex_hull
    if not isinstance(hull, Polygon) or hull.area <= fine**2:
        return None
    box = Box(*hull.bounds)
    if box.area.area <= hull.area * (1 + _ROUNDING):
        return box
    shapely.prepare(hull)
    return Field(hull)


def _between(start: Point, goal: Point, share: float) -> Point:
    return start[0] + share * (goal[0] - start[0]), start[1] + share * (goal[1] - start[1])


def last(fits: Callable[[float], bool]) -> float:
    """Largest share from 0 to 1 that fits, by halving; a share that fits makes smaller ones fit."""
    if fits(1.0):
        return 1.0
    low, high = 0.0, 1.0
    for _ in range(_HALVINGS):
        half = (low + high) / 2
        low, high = (half, high) if fits(half) else (low, half)
    return low
