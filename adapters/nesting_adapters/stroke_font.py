"""The packaged fonts of our own: single lines, and the same lines widened to areas."""

import re
import unicodedata
from functools import cache

import shapely

from nesting.errors import InputError
from nesting.geometry.contour import Contour
from nesting.geometry.font import Font, Glyph
from nesting_adapters.stroke_glyphs import GLYPHS, MARKS, MARKS_BELOW

CAPITAL = 10.0
GAP = 2.6
SPACE = 5.0
BROAD = 1.5
"""Width of the broad font's lines, where capitals are 10 high."""

_FINE = 0.005
_BULGES = {"q": 0.41421356237309503, "h": 1.0, "Q": -0.41421356237309503, "H": -1.0}
_POINT = re.compile(r"(-?[\d.]+),(-?[\d.]+)(?:,(-?[\d.]+))?([qQhH]?)(z?)")


class StrokeFonts:
    """Gives the fonts ``"round"``, followed as single lines, and ``"broad"``, whose letters are areas."""

    suffixes: tuple[str, ...] = ()
    packaged = ("round", "broad")

    def read(self, source: str, characters: str) -> Font:
        """Give some characters of a packaged font; see `nesting.ports.FontReader`."""
        if source not in self.packaged:
            raise InputError.single(f"found the font {source!r}; allowed: {', '.join(self.packaged)}")
        found = {c: glyph(c, broad=source == "broad") for c in characters}
        return Font(source, source == "broad", {c: g for c, g in found.items() if g is not None})


@cache
def glyph(character: str, *, broad: bool) -> Glyph | None:
    """Draw a character at a capital height of 1 mm; None if there is none.

    >>> glyph("I", broad=False).contours[0].length, glyph("一", broad=False)
    (1.0, None)
    """
    strokes = _strokes(character)
    if strokes is None:
        return None
    if not strokes:
        return Glyph(SPACE / CAPITAL)
    boxes = [stroke.bounds for stroke in strokes]
    left, right = min(box[0] for box in boxes), max(box[2] for box in boxes)
    room = BROAD if broad else 0.0
    moved = [stroke.moved(-left + room / 2) for stroke in strokes]
    drawn = _widened(moved) if broad else moved
    contours = tuple(contour.scaled(1 / CAPITAL) for contour in drawn)
    return Glyph((right - left + room + GAP) / CAPITAL, contours)


def _strokes(character: str) -> list[Contour] | None:
    """Draw a character, or its letter and its marks; None if one of them is not there."""
    if character in GLYPHS:
        return [_stroke(text) for text in GLYPHS[character].split("|") if text]
    base, *marks = list(unicodedata.normalize("NFD", character))
    above = [mark for mark in marks if mark in MARKS]
    if not marks or base not in GLYPHS or any(m not in MARKS and m not in MARKS_BELOW for m in marks):
        return None
    letter = {"i": "ı", "j": "ȷ"}.get(base, base) if above else base
    strokes = [_stroke(text) for text in GLYPHS[letter].split("|")]
    boxes = [stroke.bounds for stroke in strokes]
    middle = (min(box[0] for box in boxes) + max(box[2] for box in boxes)) / 2
    height = max(box[3] for box in boxes) + 1.4
    for mark in marks:
        text, y = (MARKS[mark], height) if mark in MARKS else (MARKS_BELOW[mark], 0.0)
        strokes += [_stroke(part).moved(middle, y) for part in text.split("|")]
    return strokes


def _stroke(text: str) -> Contour:
    found = [_POINT.fullmatch(word) for word in text.split()]
    points = [match for match in found if match is not None]
    if len(points) < len(found):
        raise ValueError(f"{text!r} is no stroke")
    vertices = tuple((float(m[1]), float(m[2]), float(m[3] or _BULGES.get(m[4], 0.0))) for m in points)
    return Contour(vertices, closed=bool(points[-1][5]))


def _widened(strokes: list[Contour]) -> list[Contour]:
    """Make the outlines of lines drawn with a round pen."""
    lines = [
        shapely.LinearRing(s.flattened(_FINE)) if s.closed else shapely.LineString(s.flattened(_FINE))
        for s in strokes
    ]
    area = shapely.union_all(lines).buffer(BROAD / 2, quad_segs=24).simplify(_FINE)
    pieces = shapely.get_parts(shapely.orient_polygons(area))
    rings = [ring for piece in pieces for ring in (piece.exterior, *piece.interiors)]
    return [
        Contour.polyline(shapely.get_coordinates(shapely.LinearRing(ring))[:-1].tolist()) for ring in rings
    ]
