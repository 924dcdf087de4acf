"""What the polygon engine places: each item's outline in every way it may lie, cut into convex pieces."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property, lru_cache

import numpy as np
import shapely
from shapely import Polygon

from nesting.geometry.contour import Points, turning
from nesting.geometry.minkowski import convex_pieces
from nesting.geometry.nofit import NoFit, no_fit
from nesting.geometry.region import Region
from nesting.packing.problem import Item, Problem, Sheet
from nesting.units import GRID_MM

SAMPLED_TURNS, MOST_SAMPLED = (1, 4, 8), 60
"""Into how many turns a free turn may be divided, beside those that lay a long side along an axis, and most
of these altogether, since every pair of turns costs time.
"""


@dataclass(frozen=True)
class Outline:
    """A polygon, and the convex pieces it has been cut into.

    Attributes
    ----------
    polygon
        The polygon.
    pieces
        The corners of each piece, counter-clockwise.
    """

    polygon: Polygon
    pieces: tuple[Points, ...] = field(compare=False)

    def turned(self, turn: float) -> "Outline":
        """Turn it by `turn` degrees round (0, 0), cut as it is."""
        if turn == 0:
            return self
        matrix = turning(turn)
        polygon = shapely.transform(self.polygon, lambda points: points @ matrix)
        return Outline(polygon, tuple(piece @ matrix for piece in self.pieces))


@dataclass(frozen=True, eq=False)
class Shape:
    """An item's outline, mirrored or not, turned, its (0, 0) where the placement will shift it.

    Attributes
    ----------
    index
        Its number among the shapes of the problem.
    item
        The item.
    cut
        The polygon around it, cut into convex pieces.
    bounds
        The true extent of what keeps the margin, exact for arcs.
    """

    index: int
    item: Item
    turn: float
    mirrored: bool
    cut: Outline
    bounds: tuple[float, float, float, float]

    @property
    def outline(self) -> Polygon:
        """The polygon around it."""
        return self.cut.polygon

    @property
    def pieces(self) -> tuple[Points, ...]:
        """Its convex pieces."""
        return self.cut.pieces

    @cached_property
    def area(self) -> float:
        """Area of the outline in mm²."""
        return float(self.outline.area)

    @cached_property
    def hull(self) -> tuple[Points, ...]:
        """The convex hull of the outline, as its one piece."""
        hull = self.outline.convex_hull
        assert isinstance(hull, Polygon)
        return convex_pieces(hull)


class Shapes:
    """All shapes of a problem and the no-fit polygons of their pairs, each made once, when asked for.

    Attributes
    ----------
    all
        The shapes.
    of_item
        For each item, in the problem's order, the ways it may lie.
    """

    def __init__(self, problem: Problem) -> None:
        self.all: list[Shape] = []
        self._smallest = min(min(_extent(item)) for item in problem.items)
        self._sizes = [_inside_margins(sheet) for sheet in problem.sheets]
        free = sum(item.turns == "any" for item in problem.items)
        self._sampled = max((count for count in SAMPLED_TURNS if count * free <= MOST_SAMPLED), default=1)
        self.of_item = [self._ways(item) for item in problem.items]
        self._ways_of = [ways for ways in self.of_item for _ in ways]
        self._bases: dict[tuple[str, bool, str, bool, float], tuple[float, NoFit]] = {}
        self._nofits: dict[tuple[int, int], NoFit] = {}

    def grid(self) -> float:
        """Give the coarsest grid (mm) that all outlines' corners keep to, counted from their lower left."""
        corners = [shapely.get_coordinates(shape.outline.exterior) - shape.bounds[:2] for shape in self.all]
        steps = np.concatenate(corners).ravel() / GRID_MM
        whole = np.round(steps)
        if np.abs(steps - whole).max() > 1e-6:
            return 0.0
        return float(np.gcd.reduce(whole.astype(np.int64))) * GRID_MM

    def nofit(self, static: Shape, orbiting: Shape) -> NoFit:
        """Where `orbiting` must not be put with `static` at (0, 0), the larger gap between them."""
        key = static.index, orbiting.index
        if key not in self._nofits:
            found = self._turned(static, orbiting)
            self._nofits[key[::-1]] = found.turned(180.0)
            self._nofits[key] = found
        return self._nofits[key]

    def _turned(self, static: Shape, orbiting: Shape) -> NoFit:
        """Turn a no-fit polygon of the same two outlines, if one has been made for the same way between."""
        between = round((orbiting.turn - static.turn) % 360, 9)
        key = static.item.name, static.mirrored, orbiting.item.name, orbiting.mirrored, between
        if key not in self._bases:
            gap = max(static.item.gap, orbiting.item.gap)
            self._bases[key] = static.turn, _no_fit(static.cut, orbiting.cut, gap)
        turn, found = self._bases[key]
        return found.turned(static.turn - turn)

    def ways(self, shape: Shape) -> list[Shape]:
        """Give all the ways in which the item of a shape may lie that are tried for all."""
        return self._ways_of[self.nearest(shape).index]

    def turned(self, shape: Shape, turn: float) -> Shape:
        """Turn a shape further by so many degrees, to a millionth; the new one is none of its item's ways."""
        whole = round((shape.turn + turn) % 360, 6) % 360
        if whole == shape.turn:
            return shape
        self.all.append(self._shape(shape.item, whole, shape.mirrored))
        return self.all[-1]

    def nearest(self, shape: Shape) -> Shape:
        """Find the way to lie, of those tried for all, that is nearest to one that has been turned."""
        if shape.index < len(self._ways_of):
            return shape
        ways = next(ways for ways in self.of_item if ways[0].item is shape.item)
        alike = [way for way in ways if way.mirrored == shape.mirrored]
        return min(alike, key=lambda way: abs((way.turn - shape.turn + 180) % 360 - 180))

    def _ways(self, item: Item) -> list[Shape]:
        """Each turn, and each turn of the mirror image; those that look alike count once."""
        ways: list[Shape] = []
        for mirrored in (False, True) if item.mirror else (False,):
            for turn in _turns(item, self._sampled, self._sizes):
                found = self._shape(item, turn, mirrored)
                if not any(_alike(found, way) for way in ways):
                    ways.append(found)
                    self.all.append(found)
        return ways

    def _shape(self, item: Item, turn: float, mirrored: bool) -> Shape:
        whole, held = (region.mirrored() if mirrored else region for region in (item.footprint, item.held))
        if whole.is_circle:
            cut = _cut(whole.moved(turn=turn), self._smallest)
        else:
            cut = _cut(whole, self._smallest).turned(turn)
        return Shape(len(self.all), item, turn, mirrored, cut, held.moved(turn=turn).bounds)


def _cut(region: Region, smallest: float) -> Outline:
    """Flatten a footprint outwards, and cut it."""
    polygon = _without_small_holes(_upright(region).shape("outer"), smallest)
    return Outline(polygon, _pieces(polygon))


def _upright(region: Region) -> Region:
    """Start a disc's contour on its left, so that the polygon round it is as wide and as high as the disc."""
    if not region.is_circle:
        return region
    x0, y0, x1, y1 = region.bounds
    return Region.circle(x1 - x0).moved((x0 + x1) / 2, (y0 + y1) / 2)


# Kept from problem to problem: a job packs the same outlines many times over.
@lru_cache(maxsize=512)
def _pieces(outline: Polygon) -> tuple[Points, ...]:
    return convex_pieces(outline)


@lru_cache(maxsize=512)
def _no_fit(static: Outline, orbiting: Outline, gap: float) -> NoFit:
    return no_fit(static.pieces, orbiting.pieces, gap)


def _extent(item: Item) -> tuple[float, float]:
    """Width across the narrowest direction, and across that."""
    box = shapely.get_coordinates(shapely.minimum_rotated_rectangle(item.footprint.shape("outer")))
    a, b = math.dist(box[0], box[1]), math.dist(box[1], box[2])
    return min(a, b), max(a, b)


def _without_small_holes(outline: Polygon, smallest: float) -> Polygon:
    """Fill the holes that are too narrow for anything of width `smallest`."""
    kept = [
        hole for hole in outline.interiors
        if min(hole.bounds[2] - hole.bounds[0], hole.bounds[3] - hole.bounds[1]) >= smallest
    ]  # fmt: skip
    return Polygon(outline.exterior, kept)


def _inside_margins(sheet: Sheet) -> tuple[float, float]:
    """Give the width and height a sheet's margins leave."""
    whole = (0.0, 0.0, sheet.width, math.inf if sheet.height is None else sheet.height)
    x0, y0, x1, y1 = whole if sheet.outline is None else sheet.outline.bounds
    return x1 - x0 - 2 * sheet.margin, y1 - y0 - 2 * sheet.margin


def _turns(item: Item, sampled: int, sizes: Sequence[tuple[float, float]]) -> Sequence[float]:
    """List the turns to try; a free turn is sampled, finely where nothing fits otherwise."""
    if item.footprint.is_circle:
        return (0.0,) if item.turns == "any" else item.turns[:1]
    if item.turns != "any":
        return item.turns
    box = shapely.get_coordinates(shapely.minimum_rotated_rectangle(item.footprint.shape("outer")))
    lean = math.degrees(math.atan2(*(box[1] - box[0])[::-1]))
    fine = {round(360 / sampled * k, 6) for k in range(sampled)}
    turns = tuple(sorted(fine | {round((90 * k - lean) % 360, 6) for k in range(4)}))
    if max(_play(item, turn, sizes) for turn in turns) < 0:
        turns = (max(np.arange(0.0, 360.0, 0.25).tolist(), key=lambda turn: _play(item, turn, sizes)),)
    return turns


def _play(item: Item, turn: float, sizes: Sequence[tuple[float, float]]) -> float:
    """Measure how much room a turned item leaves in the most spacious sheet, negative if it does not fit."""
    x0, y0, x1, y1 = item.held.outer.moved(turn=turn).bounds
    return max(min(width - (x1 - x0), height - (y1 - y0)) for width, height in sizes)


def _alike(shape: Shape, other: Shape) -> bool:
    """Whether one of two shapes may stand for the other, moved."""
    same = shapely.equals_exact(_cornered(shape), _cornered(other), 1e-6, normalize=True)
    return bool(np.all(same))


def _cornered(shape: Shape) -> list[Polygon]:
    """Give the outline and the box of what keeps the margin, the lower left corner of the box at (0, 0)."""
    corner = np.array(shape.bounds[:2])
    parts = [shape.outline, shapely.box(*shape.bounds)]
    return [shapely.transform(part, lambda points: np.array(np.round(points - corner, 6))) for part in parts]
