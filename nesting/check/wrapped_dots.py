"""The check of a picture of dots round a body: straight rows from above, shades along the surface."""

import math

import numpy as np

from nesting.check.dots import LEAVES, PARALLEL, TWICE, overlapping, shade_fault
from nesting.check.solids import Floats
from nesting.check.unrolled import Flattened
from nesting.job.job import Dots
from nesting.plan_values import Placed

_ROW_MM = 1e-5
_SAMPLES = 15_000
_AT_ONCE = 4000
_BLOCKS = 6


def wrapped_dots_fault(
    placed: Placed, ends: Floats, dots: Dots, interval: float, side: Flattened
) -> str | None:
    """Say what is wrong with the sweeps of a picture that lies along the surface of a body.

    Places spread evenly over the sweeps are laid flat. There each stands for an area larger than seen from
    above by as much as the surface leans, and block by block they must add up to how dark the picture is.
    """
    back = np.exp(-1j * math.radians(placed.turn))
    a, b = (ends[:, 0] + 1j * ends[:, 1]) * back, (ends[:, 2] + 1j * ends[:, 3]) * back
    if not np.isfinite(ends).all() or np.abs((b - a).imag).max() > _ROW_MM:
        return PARALLEL
    row = (a.imag - a.imag.min()) / interval
    if np.abs(row - np.round(row)).max() > _ROW_MM / interval:
        return f"rows are not {interval:g} mm apart; space them so"
    if overlapping(np.round(row), np.minimum(a.real, b.real), np.maximum(a.real, b.real)):
        return TWICE
    seen, length = _spread_over(ends)
    flat, larger = _laid(side, seen)
    inside = ((flat[:, 0] - placed.x) + 1j * (flat[:, 1] - placed.y)) * back
    if placed.mirrored:
        inside = -inside.conj()
    inside -= complex(dots.x, dots.y) * placed.scale
    size = dots.picture.width * placed.scale, dots.picture.height * placed.scale
    room = interval * side.spread
    places = np.column_stack([inside.real, inside.imag])
    if not ((places >= -room) & (places <= np.array(size) + room)).all():
        return LEAVES
    counts = [min(_BLOCKS, max(1, round(edge / (24 * interval)))) for edge in size]
    swept, _, _ = np.histogram2d(
        np.clip(places[:, 1], 0, size[1]), np.clip(places[:, 0], 0, size[0]), [counts[1], counts[0]],
        [(0, size[1]), (0, size[0])], weights=length * interval * larger,
    )  # fmt: skip
    return shade_fault(dots, swept / (size[0] * size[1] / counts[0] / counts[1]), size, interval)


def _spread_over(ends: Floats) -> tuple[Floats, float]:
    """Put places at equal distances along all sweeps, and say how much of them each stands for."""
    lengths = np.hypot(ends[:, 2] - ends[:, 0], ends[:, 3] - ends[:, 1])
    until = np.cumsum(lengths)
    step = float(until[-1]) / _SAMPLES
    at = (np.arange(_SAMPLES) + 0.5) * step
    k = np.minimum(np.searchsorted(until, at), len(ends) - 1)
    share = 1 - (until[k] - at) / np.maximum(lengths[k], 1e-12)
    return ends[k, :2] + share[:, None] * (ends[k, 2:] - ends[k, :2]), step


def _laid(side: Flattened, seen: Floats) -> tuple[Floats, Floats]:
    """Lay places flat, and say how many times as large as from above a small area there is."""
    batches = np.array_split(seen, max(1, len(seen) // _AT_ONCE))
    flat = np.concatenate([side.flat(batch) for batch in batches])
    leaning = np.concatenate([side.incidence(batch) for batch in batches])
    return flat, 1 / np.cos(np.radians(np.nan_to_num(leaning)))
