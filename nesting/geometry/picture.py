"""A picture: how dark each cell of a grid is, in true size."""

import base64
import zlib
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

MOST_PIXELS = 40_000_000
"""No picture has more pixels: 6300 x 6300."""

_WHITE = 255


@dataclass(frozen=True)
class Picture:
    """Pixels on a page of `width` x `height` mm, the page's lower left corner at (0, 0).

    `grey` holds one byte a pixel, 0 for black and 255 for white, row by row from the top, packed by
    zlib (RFC 1950) and written in base64 (RFC 4648), so that it goes into a text file as it is.

    Raises
    ------
    ValueError
        If a size is not above 0 or the pixels are not those that `columns` and `rows` promise.

    Examples
    --------
    >>> dot = Picture.of(np.array([[0, 255]], dtype=np.uint8), 2.0, 1.0)
    >>> dot.darkness.tolist()
    [[1.0, 0.0]]
    """

    width: float
    height: float
    columns: int
    rows: int
    grey: str

    def __post_init__(self) -> None:
        if min(self.width, self.height, self.columns, self.rows) <= 0:
            raise ValueError("a picture needs a width and a height above 0")
        if self.columns * self.rows > MOST_PIXELS:
            raise ValueError(f"a picture of {self.columns} x {self.rows} pixels; allowed: {MOST_PIXELS}")
        if len(self._bytes()) != self.columns * self.rows:
            raise ValueError(f"a picture of {self.columns} x {self.rows} pixels needs as many bytes")

    @classmethod
    def of(cls, grey: NDArray[np.uint8], width: float, height: float) -> "Picture":
        """Make a picture of grey levels, the top row first."""
        rows, columns = grey.shape
        packed = base64.b64encode(zlib.compress(grey.tobytes(), 1)).decode()
        return cls(width, height, columns, rows, packed)

    @property
    def levels(self) -> NDArray[np.uint8]:
        """The grey levels, shape (rows, columns), the top row first."""
        return np.frombuffer(self._bytes(), dtype=np.uint8).reshape(self.rows, self.columns)

    @property
    def darkness(self) -> Floats:
        """How dark each pixel is, from 0 (white) to 1 (black), the bottom row first."""
        return 1.0 - self.levels[::-1].astype(float) / _WHITE

    def _bytes(self) -> bytes:
        try:
            # one byte more than promised is enough to see that there are too many
            return zlib.decompressobj().decompress(
                base64.b64decode(self.grey, validate=True), self.columns * self.rows + 1
            )
        except (ValueError, zlib.error) as error:
            raise ValueError(f"the pixels of a picture cannot be unpacked: {error}") from None
