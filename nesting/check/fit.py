"""The check of an artwork's rule: the turn, size and place it asks for on a blank."""

import math
from collections.abc import Iterator

import numpy as np

from nesting.check.rules import turn_allowed
from nesting.check.solids import Floats, chain
from nesting.geometry.region import Region
from nesting.job.job import Artwork
from nesting.plan_values import Marking

_ROOM_MM = 0.01
_SHARES = {"left": 0.0, "bottom": 0.0, "centre": 0.5, "middle": 0.5, "right": 1.0, "top": 1.0}


def rule_faults(marking: Marking, artwork: Artwork, area: Region) -> Iterator[str]:
    """Say where a marking does not follow its artwork's rule.

    How large an artwork becomes and where it lies in an area that is no rectangle depends on its
    whole shape; there only the upper limits are checked, and by the mark area itself that it fits.
    """
    if not turn_allowed(marking.turn, (artwork.turn,)):
        yield f"turned by {marking.turn:g}°; the artwork's turn is {artwork.turn:g}°"
    if not artwork.drawing.contours:
        return
    low, high = _extent(artwork, marking)
    corners = chain(area.outer)
    room_low, room_high = corners.min(axis=0) + artwork.inset, corners.max(axis=0) - artwork.inset
    yield from _size_faults(artwork, marking, high - low, room_high - room_low, exact=_is_rectangle(area))
    if _is_rectangle(area):
        shares = np.array([_SHARES[artwork.align_x], _SHARES[artwork.align_y]])
        off = (low - room_low) - shares * ((room_high - room_low) - (high - low))
        if np.abs(off).max() > _ROOM_MM:
            where = f"{artwork.align_y} {artwork.align_x}"
            yield f"lies ({off[0]:.3f}, {off[1]:.3f}) mm off its alignment, {where}; move it"


def _size_faults(
    artwork: Artwork, marking: Marking, size: Floats, room: Floats, *, exact: bool
) -> Iterator[str]:
    """Compare the size with the one asked for; `exact` if the room decides how large a fill becomes."""
    if artwork.fit == "true":
        if abs(marking.scale - 1) > 1e-9:
            yield f"scaled by {marking.scale:g}; the artwork is to be in true size"
        return
    asked = room
    if artwork.fit == "size":
        asked = np.array([artwork.width or math.inf, artwork.height or math.inf])
    spare = float((asked - size).min())
    if spare < -_ROOM_MM or (spare > _ROOM_MM and (exact or artwork.fit == "size")):
        found, wanted = f"{size[0]:.3f} x {size[1]:.3f}", f"{asked[0]:.3f} x {asked[1]:.3f}"
        yield f"is {found} mm; it must just fit {wanted} mm; scale it"


def _extent(artwork: Artwork, marking: Marking) -> tuple[Floats, Floats]:
    """Lowest and highest x and y of what is drawn, on the blank, line widths included."""
    spin = marking.scale * np.exp(1j * math.radians(marking.turn))
    lows, highs = [], []
    for shape in artwork.drawing.shapes:
        half = shape.width * marking.scale / 2 if shape.stroked else 0.0
        for contour in shape.contours:
            points = chain(contour)
            places = (points[:, 0] + 1j * points[:, 1]) * spin + complex(marking.x, marking.y)
            lows.append([places.real.min() - half, places.imag.min() - half])
            highs.append([places.real.max() + half, places.imag.max() + half])
    return np.min(lows, axis=0), np.max(highs, axis=0)


def _is_rectangle(area: Region) -> bool:
    """Tell whether an area fills the box round it."""
    corners = chain(area.outer)
    width, height = np.ptp(corners, axis=0)
    x, y = corners.T
    filled = abs(float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))) / 2
    return not area.holes and math.isclose(filled, float(width * height), rel_tol=1e-9)
