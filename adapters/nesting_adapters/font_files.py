"""Reads font files (TrueType and OpenType)."""

import math
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np

from nesting.errors import InputError
from nesting.geometry.contour import Contour
from nesting.geometry.font import Font, Glyph
from nesting_adapters.extras import library, refuse_large

MOST_BYTES = 40_000_000
MOST_SEGMENTS = 20_000
"""No glyph has more segments."""

FINE = 2e-4
"""Curves are flattened to this, at a capital height of 1 mm."""

_CAPITAL_SHARE = 0.7
"""Capital height of a font that does not say it and has no H, as a share of its em; common practice."""


class FontFiles:
    """Reads TrueType and OpenType outlines with fontTools, one character a glyph.

    There is no shaping: ligatures and joined scripts are not set. Kerning is that of the ``kern`` table.
    """

    suffixes = (".ttf", ".otf")
    packaged: tuple[str, ...] = ()

    def read(self, source: str, characters: str) -> Font:
        """Read some characters; see `nesting.ports.FontReader`."""
        path = Path(source)
        refuse_large(path, MOST_BYTES)
        fonts = library("fontTools.ttLib", "text", path)
        try:
            with fonts.TTFont(BytesIO(path.read_bytes()), lazy=True, fontNumber=0) as font:
                return _font(font, path.stem, characters, path)
        except InputError:
            raise
        except Exception as error:  # noqa: BLE001 -- damaged tables make fontTools raise anything
            message = f"this font is broken: {type(error).__name__}: {error}"
            raise InputError.single(message[:300], file=str(path)) from None


def _font(font: Any, name: str, characters: str, path: Path) -> Font:
    names, glyph_set = font.getBestCmap() or {}, font.getGlyphSet()
    capital = _capital_height(font, names, glyph_set, path)
    found: dict[str, Glyph] = {}
    for character in characters:
        glyph_name = names.get(ord(character))
        if glyph_name is not None:
            pen = library("fontTools.pens.recordingPen", "text", path).DecomposingRecordingPen(glyph_set)
            glyph_set[glyph_name].draw(pen)
            contours = tuple(_contours(pen.value, 1 / capital))
            advance = glyph_set[glyph_name].width / capital
            if not math.isfinite(advance) or not 0 <= advance < 100:
                raise ValueError(f"the width of {character!r} is {advance:g} times the capitals' height")
            found[character] = Glyph(advance, contours)
    em = float(font["head"].unitsPerEm) / capital
    return Font(name, filled=True, glyphs=found, kerning=_kerning(font, names, found, capital), em=em)


def _capital_height(font: Any, names: dict[int, str], glyph_set: Any, path: Path) -> float:
    units = float(font["head"].unitsPerEm)
    stated = float(getattr(font["OS/2"], "sCapHeight", 0) or 0) if "OS/2" in font else 0.0
    if stated <= 0 and ord("H") in names:
        pen = library("fontTools.pens.boundsPen", "text", path).BoundsPen(glyph_set)
        glyph_set[names[ord("H")]].draw(pen)
        stated = float(pen.bounds[3]) if pen.bounds else 0.0
    return stated if 0 < stated < 10 * units else _CAPITAL_SHARE * units


def _kerning(font: Any, names: dict[int, str], found: dict[str, Glyph], capital: float) -> dict[str, float]:
    tables = (
        [table for table in font["kern"].kernTables if hasattr(table, "kernTable")] if "kern" in font else []
    )
    pairs: dict[str, float] = {}
    for table in tables:
        for a in found:
            for b in found:
                value = table.kernTable.get((names[ord(a)], names[ord(b)]))
                if value:
                    pairs[a + b] = value / capital
    return pairs


def _contours(commands: list[tuple[str, tuple[Any, ...]]], scale: float) -> list[Contour]:
    if len(commands) > MOST_SEGMENTS:
        raise ValueError(f"a glyph of {len(commands)} segments; allowed: up to {MOST_SEGMENTS}")
    contours: list[Contour] = []
    chain: list[complex] = []
    for what, points in commands:
        places = [complex(*p) * scale if p is not None else None for p in points]
        if what == "moveTo":
            chain = [p for p in places if p is not None]
        elif what == "lineTo":
            chain += [p for p in places if p is not None]
        elif what == "curveTo":
            chain += _flat([chain[-1], *places])
        elif what == "qCurveTo":
            for piece in _quadratics(chain, places):
                chain += _flat(piece)
        elif len(chain) > 2:
            contours.append(_closed(chain))
    return contours


def _quadratics(chain: list[complex], places: list[Any]) -> list[list[complex]]:
    """Split a TrueType curve at the points that lie half way between its off-curve points."""
    if places[-1] is None:
        ring = places[:-1]
        start = (ring[-1] + ring[0]) / 2
        chain[:] = [start]
        places = [*ring, start]
    pieces, here = [], chain[-1]
    *controls, last = places
    for k, control in enumerate(controls):
        end = last if k == len(controls) - 1 else (control + controls[k + 1]) / 2
        pieces.append([here, control, end])
        here = end
    return pieces or [[here, last]]


def _flat(controls: list[Any]) -> list[complex]:
    """Points of a Bézier curve after its first: as many pieces as the bend of its controls needs."""
    points = np.array(controls, dtype=complex)
    degree = len(points) - 1
    bend = np.abs(np.diff(points, 2)).max() if degree > 1 else 0.0
    # the chord's error is at most an eighth of the second derivative, over the square of the pieces
    pieces = max(1, math.ceil(math.sqrt(degree * (degree - 1) * bend / 8 / FINE)))
    if pieces > MOST_SEGMENTS:
        raise ValueError("a glyph is too large")
    t = np.arange(1, pieces + 1)[:, None] / pieces
    basis = [math.comb(degree, k) * t**k * (1 - t) ** (degree - k) for k in range(degree + 1)]
    return list(np.asarray(np.hstack(basis) @ points).tolist())


def _closed(chain: list[complex]) -> Contour:
    kept = [p for k, p in enumerate(chain) if p != chain[k - 1]]
    return Contour.polyline([(p.real, p.imag) for p in kept])
