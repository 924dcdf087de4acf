"""Reads pictures made of pixels (PNG, JPEG, BMP), as they are or as outlines of what is dark."""

from pathlib import Path

from nesting.errors import InputError
from nesting.geometry.drawing import Drawing
from nesting.geometry.picture import Picture
from nesting.ports import Tracing
from nesting_adapters.extras import library, refuse_large
from nesting_adapters.raster_levels import grey_levels
from nesting_adapters.raster_trace import outlines

MOST_BYTES = 50_000_000
MM_PER_INCH = 25.4

DEFAULT_PPI = 96.0
"""A picture that says nothing else has CSS pixels: 96 an inch (W3C CSS Values and Units 3, section 6.2)."""


class RasterReader:
    """Reads pictures with Pillow.

    Colours become greys by the weights of Recommendation ITU-R BT.601, and what is transparent
    becomes white. Resolution is what the file says (PNG's pHYs, JPEG's JFIF) unless it is given.
    """

    suffixes: tuple[str, ...] = (".png", ".jpg", ".jpeg", ".bmp")

    def picture(self, path: Path, ppi: float | None = None, inverted: bool = False) -> Picture:
        """Read a picture; see `nesting.ports.PictureReader`."""
        refuse_large(path, MOST_BYTES)
        levels, stated = grey_levels(path, path)
        per_inch = ppi or stated or DEFAULT_PPI
        rows, columns = levels.shape
        try:
            return Picture.of(
                255 - levels if inverted else levels,
                columns * MM_PER_INCH / per_inch,
                rows * MM_PER_INCH / per_inch,
            )
        except ValueError as error:
            raise InputError.single(str(error), file=str(path)) from None

    def trace(self, picture: Picture, tracing: Tracing, path: Path) -> Drawing:
        """Find the outlines of what is dark; see `nesting.ports.PictureReader`."""
        contourpy = library("contourpy", "raster", path)
        try:
            return outlines(picture, tracing, contourpy)
        except ValueError as error:
            raise InputError.single(str(error), file=str(path)) from None
