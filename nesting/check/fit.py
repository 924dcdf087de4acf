"""The check of an artwork's rule: the turn, size and place it asks for on a blank."""

import math
from collections.abc import Iterator

import numpy as np

from nesting.check.cut import as_drawing, cover_faults
from nesting.check.distances import Places
from nesting.check.rules import turn_allowed
from nesting.check.solids import Floats, chain
from nesting.geometry.drawing import Drawing
from nesting.geometry.region import Region
from nesting.job.job import Artwork, Lettering
from nesting.plan_values import Placed

_ROOM_MM = 0.01
_SHARES = {"left": 0.0, "bottom": 0.0, "centre": 0.5, "middle": 0.5, "right": 1.0, "top": 1.0}


def rule_faults(placed: Placed, artwork: Artwork, area: Region | None) -> Iterator[str]:
    """Say where an artwork on a blank does not follow its artwork's rule.

    How large an artwork becomes and where it lies in an area that is no rectangle depends on its
    whole shape; there only the upper limits are checked, and by the mark area itself that it fits. A
    wrapped artwork, laid flat, comes without its area: only its size is compared with what is stated.
    What covers its area and is cut off is judged by what is drawn, for parts show less.
    """
    if not turn_allowed(placed.turn, (artwork.turn,)):
        yield f"turned by {placed.turn:g}°; the artwork's turn is {artwork.turn:g}°"
    if placed.mirrored != artwork.mirrored:
        yield "mirrored, and its artwork is not" if placed.mirrored else "not mirrored, and its artwork is"
    if not placed.parts:
        yield "nothing is marked; mark it"
        return
    if artwork.fit == "fill":
        if area is None or isinstance(artwork.content, Lettering):
            yield "a text or what is wrapped is not cut off; give it another rule"
        else:
            yield from cover_faults(_places(placed, artwork), artwork, area)
        return
    low, high = _extent(artwork, placed)
    if area is None:
        endless = np.full(2, math.inf)
        yield from _size_faults(artwork, placed, high - low, endless, exact=False)
        return
    corners = chain(area.outer)
    left, below, right, above = artwork.margins
    room_low = corners.min(axis=0) + artwork.inset + (left, below)
    room_high = corners.max(axis=0) - artwork.inset - (right, above)
    exact = _is_rectangle(area) and not any(artwork.offset)
    yield from _size_faults(artwork, placed, high - low, room_high - room_low, exact=exact)
    if _is_rectangle(area):
        shares = np.array([_SHARES[artwork.align_x], _SHARES[artwork.align_y]])
        off = (low - room_low) - artwork.offset - shares * ((room_high - room_low) - (high - low))
        if np.abs(off).max() > _ROOM_MM:
            where = f"{artwork.align_y} {artwork.align_x}"
            yield f"lies ({off[0]:.3f}, {off[1]:.3f}) mm off its alignment, {where}; move it"


def _size_faults(
    artwork: Artwork, placed: Placed, size: Floats, room: Floats, *, exact: bool
) -> Iterator[str]:
    """Compare the size with the one asked for; `exact` if the room decides how large a fill becomes."""
    content = artwork.content
    if isinstance(content, Lettering) and content.size * placed.scale < content.smallest - _ROOM_MM:
        yield f"capitals of {content.size * placed.scale:.3f} mm; allowed: {content.smallest:g} mm or more"
    sized = artwork.width is not None or artwork.height is not None
    if artwork.fit == "true" or (artwork.fit == "shrink" and not sized):
        if placed.scale > 1 + 1e-9 or (artwork.fit == "true" and placed.scale < 1 - 1e-9):
            yield f"scaled by {placed.scale:g}; the artwork is to be in true size"
        if artwork.fit == "true" or abs(placed.scale - 1) <= 1e-9:
            return
    asked = room
    stated = np.array([artwork.width or math.inf, artwork.height or math.inf])
    if artwork.fit == "size":
        asked = stated
    elif artwork.fit == "shrink" and sized:
        asked = np.minimum(room, stated)
    spare = float((asked - size).min())
    if spare < -_ROOM_MM or (spare > _ROOM_MM and (exact or artwork.fit == "size")):
        found, wanted = f"{size[0]:.3f} x {size[1]:.3f}", f"{asked[0]:.3f} x {asked[1]:.3f}"
        yield f"is {found} mm; it must just fit {wanted} mm; scale it"


def _extent(artwork: Artwork, placed: Placed) -> tuple[Floats, Floats]:
    """Lowest and highest x and y of what is drawn, on the blank, line widths included."""
    if not isinstance(artwork.content, Drawing) or not (artwork.content.contours or artwork.pictures):
        boxes = [chain(contour) for part in placed.parts for contour in part.contours]
        points = np.concatenate(boxes)
        return points.min(axis=0), points.max(axis=0)
    lows, highs = [], []
    for contours, half in _drawn(artwork, artwork.content):
        for along in contours:
            places = _there(along, placed)
            grown = half * placed.scale
            lows.append([places.real.min() - grown, places.imag.min() - grown])
            highs.append([places.real.max() + grown, places.imag.max() + grown])
    return np.min(lows, axis=0), np.max(highs, axis=0)


def _places(placed: Placed, artwork: Artwork) -> Places:
    """Points along what is drawn, on the blank, line widths left out."""
    shown = as_drawing(artwork)
    assert isinstance(shown.content, Drawing), "a text is not cut off"
    return np.concatenate(
        [_there(along, placed) for each, _ in _drawn(shown, shown.content) for along in each]
    )


def _there(along: Places, placed: Placed) -> Places:
    """Bring points of a drawing onto the blank."""
    spin = placed.scale * np.exp(1j * math.radians(placed.turn))
    return np.asarray((-along.conj() if placed.mirrored else along) * spin + complex(placed.x, placed.y))


def _drawn(artwork: Artwork, drawing: Drawing) -> Iterator[tuple[list[Places], float]]:
    """Points along what is drawn, copies round a circle included, and half the width of its lines."""
    spins, shift = [1 + 0j], 0j
    if artwork.around is not None:
        x0, y0, x1, y1 = drawing.bounds
        shift = 1j * artwork.around.radius - complex(x0 + x1, y0 + y1) / 2
        spins = [np.exp(-2j * math.pi * k / artwork.around.count) for k in range(artwork.around.count)]
    for shape in drawing.shapes:
        chains = [chain(contour) for contour in shape.contours]
        places = [points[:, 0] + 1j * points[:, 1] + shift for points in chains]
        yield [p * spin for p in places for spin in spins], shape.width / 2 if shape.stroked else 0.0
    for dots in artwork.pictures:
        width, height = dots.picture.width, dots.picture.height
        yield [complex(dots.x, dots.y) + np.array([0, width, width + 1j * height, 1j * height])], 0.0


def _is_rectangle(area: Region) -> bool:
    """Tell whether an area fills the box round it."""
    corners = chain(area.outer)
    width, height = np.ptp(corners, axis=0)
    x, y = corners.T
    filled = abs(float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))) / 2
    return not area.holes and math.isclose(filled, float(width * height), rel_tol=1e-9)
