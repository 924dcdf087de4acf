"""Puts an artwork's drawing into a blank's mark area."""

from dataclasses import dataclass

from nesting.artwork.room import Drawn, room_in
from nesting.errors import InputError
from nesting.geometry.drawing import Shape
from nesting.geometry.region import Region
from nesting.job.job import Artwork

SLACK = 1e-9
"""Rounding allowed when a stated size just meets the edge of the area, as a share of the size."""

_SHARES = {"left": 0.0, "bottom": 0.0, "centre": 0.5, "middle": 0.5, "right": 1.0, "top": 1.0}


@dataclass(frozen=True)
class Placing:
    """From a drawing to a blank: scale about (0, 0), turn by degrees round it, then shift by (x, y) mm."""

    scale: float
    turn: float
    x: float
    y: float

    def shape(self, shape: Shape) -> Shape:
        """Bring a shape of the drawing into the blank's coordinates."""
        contours = tuple(c.scaled(self.scale).moved(self.x, self.y, self.turn) for c in shape.contours)
        return Shape(contours, shape.filled, shape.stroked, shape.rule, shape.width * self.scale)


def place(artwork: Artwork, area: Region, blank: str = "") -> Placing:
    """Scale and shift an artwork into a mark area by its rule.

    Sizes are those of what is drawn, line widths included, as it lies on the blank (after
    `artwork.turn`). In an area that is no rectangle the convex hull of the drawing stays inside: it
    is placed round the middle of the area, then moved as far towards its alignment as fits.

    Raises
    ------
    InputError
        If nothing is drawn, or the artwork does not fit the area.

    Examples
    --------
    >>> from nesting.geometry.contour import Contour
    >>> from nesting.geometry.drawing import Drawing
    >>> frame = Shape((Contour.polyline([(0, 0), (10, 0), (10, 5), (0, 5)]),))
    >>> place(Artwork("frame", Drawing(10, 5, (frame,))), Region.rectangle(40, 40))
    Placing(scale=4.0, turn=0.0, x=0.0, y=10.0)
    """
    try:
        return _place(artwork, area)
    except ValueError as error:
        where = f"artwork {artwork.name!r}" + (f" on blank {blank!r}" if blank else "")
        raise InputError.single(str(error), where=where) from error


def _place(artwork: Artwork, area: Region) -> Placing:
    drawn, room = Drawn.of(artwork.drawing, artwork.turn), room_in(area, artwork.inset)
    if max(drawn.width, drawn.height) <= 0:
        raise ValueError("nothing is drawn; allowed: a drawing with an extent")
    if room is None:
        raise ValueError(f"an inset of {artwork.inset:g} mm leaves nothing of the mark area; allowed: less")
    middle, most = room.largest(drawn)
    scale = most if artwork.fit == "fill" else _stated_scale(artwork, drawn)
    if scale > most * (1 + SLACK):
        raise ValueError(
            f"{drawn.width * scale:.4g} x {drawn.height * scale:.4g} mm does not fit the mark area; "
            f"allowed: up to {drawn.width * most:.4g} x {drawn.height * most:.4g} mm in these proportions"
        )
    shares = _SHARES[artwork.align_x], _SHARES[artwork.align_y]
    x, y = room.aligned(drawn, scale, middle, shares)
    return Placing(scale, artwork.turn, x - scale * drawn.middle[0], y - scale * drawn.middle[1])


def _stated_scale(artwork: Artwork, drawn: Drawn) -> float:
    """Scale for ``"true"`` and ``"size"``; with both lengths stated the drawing stays within either."""
    if artwork.fit == "true":
        return 1.0
    stated = ((artwork.width, drawn.width), (artwork.height, drawn.height))
    ratios = [wanted / is_now for wanted, is_now in stated if wanted is not None and is_now > 0]
    if not ratios or min(ratios) <= 0:
        raise ValueError("fit = 'size' needs a width or height above 0 along which something is drawn")
    return min(ratios)
