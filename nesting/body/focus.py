"""Which height to focus on, and how much of an uneven surface is then in focus."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nesting.body.lens import Lens

_NOISE_MM = 1e-9


@dataclass(frozen=True)
class FocusZone:
    """What is in focus of a surface.

    Attributes
    ----------
    height
        Where the focus lies, in mm above the bed.
    lowest, highest
        Of the surface looked at.
    share
        How much of it lies in the depth of focus, 0 to 1.
    away
        Greatest distance of the surface from the focus, in mm.
    growth
        How many times its least diameter the spot has there; None where no lens is stated.
    """

    height: float
    lowest: float
    highest: float
    share: float
    away: float
    growth: float | None


def best_focus(heights: NDArray[np.float64], depth: float) -> float:
    """Find the focus height that gets most of a surface into a depth of focus.

    Parameters
    ----------
    heights
        Heights in mm of places spread evenly over the surface.
    depth
        Total depth of focus in mm.

    Returns
    -------
    Midway between the extremes if all of it gets into focus; otherwise the middle of the depth that
    holds most places, of equal ones the highest.

    Examples
    --------
    >>> best_focus(np.array([70.0, 70.4, 71.0]), 2.0)
    70.5
    >>> best_focus(np.array([60.0, 70.0, 70.4, 71.0]), 2.0)
    70.0
    """
    ordered = np.sort(heights)
    if ordered[-1] - ordered[0] <= depth:
        return float(ordered[0] + ordered[-1]) / 2
    below = np.searchsorted(ordered, ordered - depth - _NOISE_MM)
    counts = np.arange(len(ordered)) - below
    last = len(ordered) - 1 - int(counts[::-1].argmax())
    return float(ordered[last]) - depth / 2


def focus_zone(
    heights: NDArray[np.float64], depth: float, height: float | None = None, lens: Lens | None = None
) -> FocusZone:
    """Say how much of a surface, given as for `best_focus`, is in focus.

    Parameters
    ----------
    heights, depth
        Of `best_focus`.
    height
        Where the focus lies; None looks for the best place.
    lens
        For the growth of the spot.
    """
    focus = best_focus(heights, depth) if height is None else height
    away = np.abs(heights - focus)
    worst = float(away.max())
    return FocusZone(
        focus,
        float(heights.min()),
        float(heights.max()),
        float((away <= depth / 2 + _NOISE_MM).mean()),
        worst,
        lens.growth(worst) if lens else None,
    )
