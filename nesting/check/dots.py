"""The check of a picture made of dots: rows at the interval, and everywhere as much marked as is dark."""

import math

import numpy as np
from numpy.typing import NDArray

from nesting.check.distances import Places
from nesting.job.job import Dots
from nesting.plan_values import Placed

Floats = NDArray[np.float64]

_BLOCK = 24
_ALIKE = 0.1
_FEW = 0.05
_ROW_MM = 1e-5
PARALLEL = "sweeps must be finite and run along the picture's rows; make them again"
LEAVES = "sweeps leave the picture; drop them"
TWICE = "sweeps of one row overlap; mark nothing twice"


def dots_fault(placed: Placed, ends: Floats, dots: Dots, interval: float) -> str | None:
    """Say what is wrong with the sweeps of a picture whose rows should be `interval` mm apart.

    The picture and its sweeps are compared block by block, each of 24 x 24 intervals: how dark it is,
    and how much of it is swept. They may differ by 10 % of the block, half that over the whole picture.
    """
    picture = dots.picture
    wide, high = picture.width * placed.scale, picture.height * placed.scale
    back, corner = np.exp(-1j * math.radians(placed.turn)), complex(dots.x, dots.y) * placed.scale
    shift = complex(placed.x, placed.y)
    a, b = (ends[:, 0] + 1j * ends[:, 1] - shift) * back, (ends[:, 2] + 1j * ends[:, 3] - shift) * back
    if placed.mirrored:
        a, b = -a.conj(), -b.conj()
    a, b = a - corner, b - corner
    if not np.isfinite(ends).all() or np.abs((b - a).imag).max() > _ROW_MM:
        return PARALLEL
    low, left = a.imag.min(), np.minimum(a.real, b.real)
    right = np.maximum(a.real, b.real)
    if left.min() < -_ROW_MM or right.max() > wide + _ROW_MM or low < -_ROW_MM or a.imag.max() > high:
        return LEAVES
    rows = max(1, round(high / interval))
    row = (a.imag - (high - (rows - 1) * interval) / 2) / interval
    if np.abs(row - np.round(row)).max() > _ROW_MM / interval:
        return f"rows are not {interval:g} mm apart; space them so"
    if overlapping(np.round(row), left, right):
        return TWICE
    return _shade_fault(dots, a, left, right, (wide, high), interval)


def unswept_fault(dots: Dots, scale: float, interval: float) -> str | None:
    """Say where a picture of which nothing is swept is dark."""
    size = dots.picture.width * scale, dots.picture.height * scale
    columns, rows = (max(1, round(length / (interval * _BLOCK))) for length in size)
    return shade_fault(dots, np.zeros((rows, columns)), size, interval)


def overlapping(row: Floats, left: Floats, right: Floats) -> bool:
    """Tell whether stretches of one row share more than rounding."""
    order = np.lexsort((left, row))
    same = np.diff(row[order]) == 0
    return bool((same & (left[order][1:] < right[order][:-1] - _ROW_MM)).any())


def _shade_fault(
    dots: Dots, at: Places, left: Floats, right: Floats, size: tuple[float, float], interval: float
) -> str | None:
    counts = [max(1, round(length / (interval * _BLOCK))) for length in size]
    swept = np.zeros((counts[1], counts[0]))
    width, height = size[0] / counts[0], size[1] / counts[1]
    rows = np.minimum((at.imag / height).astype(int), counts[1] - 1)
    for column in range(counts[0]):
        here = np.clip(right, column * width, (column + 1) * width) - np.clip(
            left, column * width, (column + 1) * width
        )
        np.add.at(swept[:, column], rows, here * interval / (width * height))
    return shade_fault(dots, swept, size, interval)


def shade_fault(dots: Dots, swept: Floats, size: tuple[float, float], interval: float) -> str | None:
    """Compare the share of each block that is swept, shape (rows, columns), with how dark it is."""
    counts = [swept.shape[1], swept.shape[0]]
    width, height = size[0] / counts[0], size[1] / counts[1]
    dark = dots.picture.darkness
    if dots.dither == "threshold":
        dark = (dark > dots.threshold).astype(float)
    wanted = _by_block(dark, counts)
    off = np.abs(swept - wanted)
    # a row belongs to a block whole, so a block may be off by the share of one row and of one column
    edge = interval / height + interval / width
    if off.max() > _ALIKE + edge:
        y, x = np.unravel_index(off.argmax(), off.shape)
        where = f"({(x + 0.5) * width:.1f}, {(y + 0.5) * height:.1f}) mm in the picture"
        return f"at {where} {swept[y, x]:.0%} is marked; {wanted[y, x]:.0%} is dark"
    if abs(swept.mean() - wanted.mean()) > _FEW + edge / 4:
        return f"{swept.mean():.0%} is marked; {wanted.mean():.0%} of the picture is dark"
    return None


def _by_block(values: Floats, counts: list[int]) -> Floats:
    """Average pixels over blocks; a pixel on a border counts for both by its share."""
    across = _shares(values.shape[1], counts[0])
    return np.asarray(_shares(values.shape[0], counts[1]) @ values @ across.T)


def _shares(pixels: int, blocks: int) -> Floats:
    """Share of each pixel in the mean of each block, shape (blocks, pixels)."""
    edges = np.linspace(0, pixels, blocks + 1)
    begin, end = edges[:-1, None], edges[1:, None]
    k = np.arange(pixels)
    return np.asarray(np.clip(np.minimum(end, k + 1) - np.maximum(begin, k), 0, 1) / (end - begin))
