"""The check of a text: every glyph of it is there, in order, on its line, as far on as the font says."""

import math
import unicodedata

import numpy as np

from nesting.check.distances import SAME_MM, same_course
from nesting.check.solids import chain
from nesting.geometry.contour import Contour
from nesting.geometry.font import Glyph
from nesting.job.job import Artwork, Lettering, OrderLine
from nesting.plan_values import Placed


def asked_text(artwork: Artwork | None, order: OrderLine) -> str | None:
    """Give what an artwork has to write on the units of an order line; None if it writes nothing."""
    if artwork is None or not isinstance(artwork.content, Lettering):
        return None
    lettering = artwork.content
    cells = [text for key, text in order.texts.items() if key.casefold() == lettering.column]
    return " ".join(unicodedata.normalize("NFC", lettering.words or "".join(cells[:1])).split())


def letters_fault(
    placed: Placed, lettering: Lettering, *, filled_by_rings: bool, within: float = SAME_MM
) -> str | None:
    """Say what is wrong with a text as it is marked; `within` mm its contours may be off.

    Rings show no glyph's outline; of a text that they fill only the characters are checked.
    """
    text, font = placed.text or "", lettering.font
    if missing := [c for c in text if c not in font.glyphs]:
        return f"the font has no {missing[0]!r}"
    if filled_by_rings and font.filled:
        return None
    kind = "fill" if font.filled else "line"
    if any(part.kind != kind for part in placed.parts):
        return f"a part is no {kind}; drop it"
    contours = [_as_set(contour, placed) for part in placed.parts for contour in part.contours]
    # of what is drawn: the text is set before it is scaled
    return _walk(text, lettering, contours, within if within == SAME_MM else within / placed.scale)


def _walk(text: str, lettering: Lettering, contours: list[Contour], within: float) -> str | None:
    """Follow the text glyph by glyph along its contours."""
    font, size = lettering.font, lettering.size
    row, used, pen, rows = None, 0, 0.0, 0
    for k, character in enumerate(text):
        glyph = font.glyphs[character]
        if glyph.contours:
            found = contours[used : used + len(glyph.contours)]
            used += len(glyph.contours)
            shift = _shift(glyph, size, found, within)
            if shift is None:
                return f"the character {k + 1} of {text!r}, {character!r}, is missing or misshapen"
            after_gap = k > 0 and text[k - 1] == " "
            if row is None or (after_gap and abs(shift.imag - row) > within):
                row, pen, rows = shift.imag, shift.real, rows + 1
            if abs(shift - complex(pen, row)) > within:
                return f"the character {k + 1} of {text!r}, {character!r}, is out of place"
            if abs(row + (rows - 1) * lettering.spacing * size) > within:
                return f"line {rows} of {text!r} is not a line's distance below the one before"
        pen += (glyph.advance + font.kerning.get(text[k : k + 2], 0.0)) * size
    if used != len(contours):
        return f"{len(contours) - used} contours are no part of {text!r}; drop them"
    return f"{rows} lines; allowed: {lettering.lines}" if rows > lettering.lines else None


def _shift(glyph: Glyph, size: float, found: list[Contour], within: float) -> complex | None:
    """How far the contours found are from those of a glyph `size` mm high; None if they are not those."""
    if within > SAME_MM:
        return _shift_of_courses(glyph, size, found, within)
    if [len(c.vertices) for c in found] != [len(c.vertices) for c in glyph.contours]:
        return None
    is_now = np.array([vertex for contour in found for vertex in contour.vertices])
    drawn = np.array([vertex for contour in glyph.contours for vertex in contour.vertices])
    off = is_now[:, :2] - drawn[:, :2] * size
    alike = np.ptp(off, axis=0).max() <= SAME_MM and np.abs(is_now[:, 2] - drawn[:, 2]).max() <= 1e-6
    return complex(*off.mean(axis=0)) if alike else None


def _shift_of_courses(glyph: Glyph, size: float, found: list[Contour], within: float) -> complex | None:
    """Compare the courses of contours, whatever their vertices."""
    drawn = [contour.scaled(size) for contour in glyph.contours]
    if len(found) != len(drawn):
        return None
    lows = [
        np.min([chain(c, within / 10).min(axis=0) for c in contours], axis=0) for contours in (found, drawn)
    ]
    x, y = lows[0] - lows[1]
    same = all(same_course(f, d.moved(x, y), within) for f, d in zip(found, drawn, strict=True))
    return complex(x, y) if same else None


def _as_set(contour: Contour, placed: Placed) -> Contour:
    """Bring a contour back from the blank to the text as it was set."""
    back = np.exp(-1j * math.radians(placed.turn)) / placed.scale
    side = -1 if placed.mirrored else 1
    places = [(complex(x, y) - complex(placed.x, placed.y)) * back for x, y, _ in contour.vertices]
    bulges = [bulge * side for *_, bulge in contour.vertices]
    return Contour(
        tuple((side * z.real, z.imag, b) for z, b in zip(places, bulges, strict=True)), contour.closed
    )
