"""A picture of pixels that lies in a drawing."""

from dataclasses import dataclass

from nesting.geometry.contour import Contour
from nesting.geometry.picture import Picture


@dataclass(frozen=True)
class Inlay:
    """A picture in a drawing.

    Attributes
    ----------
    picture
        As large as it appears, before it is turned or mirrored.
    place
        The map ``(a, b, c, d, e, f)`` from the picture's mm to the drawing's: x' = a x + c y + e,
        y' = b x + d y + f.
    clip
        Outlines, by the even-odd rule, in the drawing, of the area in which it is seen; none for all of it.
    """

    picture: Picture
    place: tuple[float, float, float, float, float, float]
    clip: tuple[Contour, ...] = ()
