"""Decodes pictures of pixels (PNG, JPEG, BMP) with Pillow, without trusting them."""

import warnings
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nesting.errors import InputError
from nesting_adapters.extras import library

MOST_PIXELS = 8_000_000
FORMATS = ("PNG", "JPEG", "BMP")

Levels = NDArray[np.uint8]


def grey_levels(source: Path | BytesIO, path: Path) -> tuple[Levels, float | None]:
    """Decode a file: grey levels with the top row first, and the pixels per inch it states.

    Parameters
    ----------
    path
        For messages.

    Raises
    ------
    nesting.errors.InputError
        If it is no picture, broken or too large.
    """
    image_module = library("PIL.Image", "raster", path)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with image_module.open(source, formats=FORMATS) as image:
                _refuse_many(image, path)
                turned = library("PIL.ImageOps", "raster", path).exif_transpose(image)
                return _levels(image_module, turned), _ppi(image)
    except InputError:
        raise
    except image_module.UnidentifiedImageError:
        message = f"this is no picture that is read; allowed: {', '.join(FORMATS)}"
        raise InputError.single(message, file=str(path)) from None
    except (*_BROKEN, image_module.DecompressionBombError) as error:
        raise InputError.single(f"this picture is broken: {error}", file=str(path)) from None


_BROKEN = (OSError, ValueError, SyntaxError, EOFError, OverflowError, ArithmeticError, TypeError, KeyError,
           IndexError, AttributeError, MemoryError)  # fmt: skip
"""What Pillow raises on damaged files, as found by feeding it such."""


def _refuse_many(image: Any, path: Path) -> None:
    width, height = image.size
    if width * height > MOST_PIXELS:
        message = f"found {width} x {height} pixels; allowed: up to {MOST_PIXELS:,} in all"
        raise InputError.single(message, file=str(path))
    if getattr(image, "n_frames", 1) > 1:
        raise InputError.single("found several pictures in one file; allowed: one", file=str(path))


def _levels(image_module: Any, image: Any) -> NDArray[np.uint8]:
    if image.mode.startswith("I"):
        return np.asarray(np.asarray(image).astype(np.int64).clip(0, 65535) >> 8, dtype=np.uint8)
    if image.mode in ("RGBA", "LA", "PA") or "transparency" in image.info:
        seen = image.convert("RGBA")
        paper = image_module.new("RGBA", seen.size, "white")
        image = image_module.alpha_composite(paper, seen)
    return np.asarray(image.convert("L"), dtype=np.uint8)


def _ppi(image: Any) -> float | None:
    """Resolution along x; one that differs along y would distort the picture and is not taken."""
    try:
        x, y = (float(value) for value in image.info.get("dpi", (0, 0)))
    except (TypeError, ValueError, ZeroDivisionError):
        return None
    return x if 1 <= x <= 100_000 and abs(x - y) < 0.01 * x else None
