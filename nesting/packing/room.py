"""What a stock sheet leaves free: its extent, and everything on it that a footprint must keep clear of."""

from dataclasses import dataclass

import shapely

from nesting.geometry.contour import Points
from nesting.geometry.minkowski import convex_pieces
from nesting.geometry.nofit import SLACK_MM, NoFit, no_fit
from nesting.packing.problem import Sheet
from nesting.packing.shapes import Shape

Box = tuple[float, float, float, float]


@dataclass(frozen=True)
class Obstacle:
    """Part of a sheet's extent that is not free, in convex pieces, and the clear distance to it.

    Of what lies around a convex outline, a footprint keeps clear if its hull does (`around`).
    """

    pieces: tuple[Points, ...]
    gap: float
    around: bool = False


class Room:
    """The free part of one kind of sheet.

    Attributes
    ----------
    sheet
        The sheet; a roll has the length given to the constructor.
    extent
        ``(min x, min y, max x, max y)`` inside the margins.
    area
        Free area in mm², never less than it is.
    obstacles
        Keep-outs, holes, and what the outline leaves out of its extent.
    """

    def __init__(self, sheet: Sheet, length: float) -> None:
        self.sheet = sheet
        box: Box = (0.0, 0.0, sheet.width, length if sheet.height is None else sheet.height)
        if sheet.outline is not None:
            box = sheet.outline.bounds
        m = sheet.margin
        self.extent: Box = (box[0] + m, box[1] + m, box[2] - m, box[3] - m)
        self.obstacles = [Obstacle(convex_pieces(region.shape("outer")), 0.0) for region in sheet.keep_outs]
        if sheet.outline is not None:
            outline = sheet.outline.shape("inner")
            around, bays = (
                shapely.box(*box).difference(outline.convex_hull),
                outline.convex_hull.difference(outline),
            )
            self.obstacles += [
                Obstacle(convex_pieces(part), m, outside is around)
                for outside in (around, bays)
                for part in shapely.get_parts(outside)
                if part.area > 0
            ]
        self.area = self._area()
        self._nofits: dict[int, list[NoFit]] = {}

    def _area(self) -> float:
        x0, y0, x1, y1 = self.extent
        if x0 >= x1 or y0 >= y1:
            return 0.0
        if self.sheet.outline is None:
            return (x1 - x0) * (y1 - y0)
        return float(self.sheet.outline.shape("outer").intersection(shapely.box(x0, y0, x1, y1)).area)

    def positions(self, shape: Shape) -> Box | None:
        """Give where the shape's (0, 0) keeps it inside the extent, `SLACK_MM` let go; None if nowhere."""
        (x0, y0, x1, y1), (a, b, c, d) = self.extent, shape.bounds
        left, low, right, high = x0 - a - SLACK_MM, y0 - b - SLACK_MM, x1 - c + SLACK_MM, y1 - d + SLACK_MM
        return (left, low, right, high) if left <= right and low <= high else None

    def nofits(self, shape: Shape) -> list[NoFit]:
        """Give the no-fit polygons of the obstacles, which stand still in the sheet's coordinates."""
        if shape.index not in self._nofits:
            self._nofits[shape.index] = [
                no_fit(o.pieces, shape.hull if o.around else shape.pieces, o.gap) for o in self.obstacles
            ]
        return self._nofits[shape.index]
