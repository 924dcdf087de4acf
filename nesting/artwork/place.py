"""Puts an artwork's drawing into a blank's mark area."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from nesting.artwork.room import Drawn, Point, Room, cover_of, last, room_in
from nesting.geometry.contour import Contour, cos_sin
from nesting.geometry.drawing import Drawing, Shape
from nesting.geometry.region import Region
from nesting.job.job import Artwork

Floats = NDArray[np.float64]

SLACK = 1e-9
"""Rounding allowed when a stated size just meets the edge of the area, as a share of the size."""

LEAST = 0.01
"""A drawing is not made more than 1/LEAST times larger to cover the area in spite of its offset."""

_SHARES = {"left": 0.0, "bottom": 0.0, "centre": 0.5, "middle": 0.5, "right": 1.0, "top": 1.0}


@dataclass(frozen=True)
class Placing:
    """From a drawing to a blank: mirror in the y axis, scale, turn round (0, 0), then shift by (x, y) mm."""

    scale: float
    turn: float
    x: float
    y: float
    mirrored: bool = False

    def shape(self, shape: Shape) -> Shape:
        """Bring a shape of the drawing into the blank's coordinates."""
        return Shape(
            tuple(map(self._contour, shape.contours)),
            shape.filled,
            shape.stroked,
            shape.rule,
            shape.width * self.scale,
        )

    def lines(self, ends: Floats) -> Floats:
        """Bring lines, already scaled, one ``(x0, y0, x1, y1)`` a row, into the blank's coordinates."""
        c, s = cos_sin(self.turn)
        side = -1.0 if self.mirrored else 1.0
        points = ends.reshape(-1, 2) * (side, 1.0) @ np.array([[c, s], [-s, c]]) + (self.x, self.y)
        return np.asarray(points.reshape(-1, 4), dtype=float)

    def back(self, points: Floats) -> Floats:
        """Bring points of the blank, shape (n, 2), back into the drawing's coordinates."""
        c, s = cos_sin(self.turn)
        side = -1.0 if self.mirrored else 1.0
        turned = (points - (self.x, self.y)) @ np.array([[c, -s], [s, c]])
        return np.asarray(turned / self.scale * (side, 1.0), dtype=float)

    def _contour(self, contour: Contour) -> Contour:
        seen = contour.mirrored() if self.mirrored else contour
        return seen.scaled(self.scale).moved(self.x, self.y, self.turn)


def place(artwork: Artwork, drawing: Drawing, area: Region) -> Placing:
    """Scale and shift an artwork's drawing into a mark area by the artwork's rule.

    Sizes are those of what is drawn, line widths included, as it lies on the blank (after
    `artwork.turn`). In an area that is no rectangle the convex hull of the drawing stays inside: it
    is placed round the middle of the area, then moved as far towards its alignment as fits. With the
    rule ``"fill"`` the convex hull, line widths left out, covers the area (less inset and margins)
    instead, and is moved as far towards its alignment as it still does.

    Raises
    ------
    ValueError
        If nothing is drawn, or it does not fit or cover the area; the message says what would.

    Examples
    --------
    >>> frame = Shape((Contour.polyline([(0, 0), (10, 0), (10, 5), (0, 5)]),))
    >>> drawing = Drawing(10, 5, (frame,))
    >>> place(Artwork("frame", drawing), drawing, Region.rectangle(40, 40))
    Placing(scale=4.0, turn=0.0, x=0.0, y=10.0, mirrored=False)
    """
    drawn = Drawn.of(drawing, artwork.turn, artwork.mirrored)
    if max(drawn.width, drawn.height) <= 0:
        raise ValueError("nothing is drawn; allowed: a drawing with an extent")
    room = room_in(area, artwork.inset, artwork.margins)
    if room is None:
        raise ValueError("its inset and margins leave nothing of the mark area; allowed: less of them")
    if artwork.fit == "fill":
        return _covering(artwork, drawing, room)
    spot = _Spot(artwork, drawn, room, artwork.offset)
    most = spot.most
    stated = most if artwork.fit == "inside" else _stated_scale(artwork, drawn)
    scale = min(stated, most) if artwork.fit == "shrink" else stated
    if scale > most * (1 + SLACK) or most <= 0:
        raise ValueError(
            f"{drawn.width * stated:.4g} x {drawn.height * stated:.4g} mm does not fit the mark area; "
            f"allowed: up to {drawn.width * most:.4g} x {drawn.height * most:.4g} mm in these proportions"
        )
    x, y = spot.middle(scale)
    dx, dy = scale * drawn.middle[0], scale * drawn.middle[1]
    return Placing(scale, artwork.turn, x - dx, y - dy, artwork.mirrored)


def _covering(artwork: Artwork, drawing: Drawing, room: Room) -> Placing:
    """Make a drawing as small as covers a room: seen from the drawing, the room gets as large as fits it."""
    cover = cover_of(drawing, artwork.turn, artwork.mirrored)
    if cover is None:
        raise ValueError('what is drawn has no area; allowed for fit = "fill": what covers a mark area')
    area = Drawn.around(room.area)
    spot = _Spot(artwork, area, cover, (-artwork.offset[0], -artwork.offset[1]), covering=True)
    if spot.most <= 0 or spot.most < LEAST * spot.unmoved:
        raise ValueError("with its offset it does not cover the mark area; allowed: less of it, or none")
    scale, (x, y) = 1 / spot.most, spot.middle(spot.most)
    dx, dy = scale * x, scale * y
    return Placing(scale, artwork.turn, area.middle[0] - dx, area.middle[1] - dy, artwork.mirrored)


@dataclass(frozen=True)
class _Spot:
    """Where an artwork's alignment and offset put its drawing, by its scale.

    If it is `covering`, the mark area is put into the drawing instead, and its offset grows with it.
    """

    artwork: Artwork
    drawn: Drawn
    room: Room
    offset: Point
    covering: bool = False

    @cached_property
    def _largest(self) -> tuple[Point, float]:
        return self.room.largest(self.drawn)

    @property
    def unmoved(self) -> float:
        """The largest scale that fits without the offset."""
        return self._largest[1]

    @cached_property
    def most(self) -> float:
        """The largest scale that fits."""
        most = self.unmoved
        if self.offset == (0.0, 0.0):
            return most
        return most * last(lambda k: self.room.fits(self.drawn, k * most, self.middle(k * most)))

    def middle(self, scale: float) -> Point:
        """Find the middle of the drawing."""
        shares = _SHARES[self.artwork.align_x], _SHARES[self.artwork.align_y]
        x, y = self.room.aligned(self.drawn, scale, self._largest[0], shares)
        moved = scale if self.covering else 1.0
        return x + moved * self.offset[0], y + moved * self.offset[1]


def _stated_scale(artwork: Artwork, drawn: Drawn) -> float:
    """Scale as drawn, or of the size stated; with both lengths the drawing stays within either."""
    stated = ((artwork.width, drawn.width), (artwork.height, drawn.height))
    if artwork.fit == "true" or (artwork.fit == "shrink" and not any(length for length, _ in stated)):
        return 1.0
    ratios = [wanted / is_now for wanted, is_now in stated if wanted is not None and is_now > 0]
    if not ratios or min(ratios) <= 0:
        raise ValueError("fit = 'size' needs a width or height above 0 along which something is drawn")
    return min(ratios)
