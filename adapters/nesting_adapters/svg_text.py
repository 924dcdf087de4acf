"""Texts of SVG drawings as outlines of a font (SVG 2, chapter 11): horizontal, one glyph a character."""

import re
import unicodedata
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

from svg.path.path import Arc, Close, Line, Move

from nesting.geometry.contour import Contour
from nesting.geometry.font import Font, Glyph
from nesting.ports import FontOf
from nesting_adapters.svg_document import Element
from nesting_adapters.svg_path import Segments, Viewport
from nesting_adapters.svg_values import length, shortened

Style = Mapping[str, str]
StyleOf = Callable[[Element, Style], Style | None]

MOST_PLACES = 10_000
LATIN = "".join(map(chr, (*range(0x20, 0x7F), *range(0xA0, 0x250))))
"""Asked for with every text, so that a font file is read once for many texts."""

DEFAULT = "default"
"""Asked for where a text names no family."""

LEFT_OUT = ("title", "desc", "metadata", "animate", "animateTransform", "animateMotion", "set")
UNREAD = {
    "font": ("none",), "writing-mode": ("horizontal-tb", "lr-tb", "lr"), "direction": ("ltr",),
    "text-decoration": ("none",), "text-decoration-line": ("none",), "font-variant": ("normal",),
    "font-stretch": ("normal", "100%"), "baseline-shift": ("baseline", "0", "0px"),
    "dominant-baseline": ("auto", "alphabetic"), "alignment-baseline": ("auto", "baseline", "alphabetic"),
    "text-transform": ("none",), "font-size-adjust": ("none",), "inline-size": ("auto", "0"),
    "shape-inside": ("auto", "none"), "white-space": ("normal", "nowrap"),
}  # fmt: skip
"""What would change a text, and the values that do not."""

LEFTWARD, MARKS = ("R", "AL", "AN"), ("Mn", "Mc")
"""Classes of characters, by Unicode, that are not set one after the other."""

ANCHORS = {"start": 0.0, "middle": 0.5, "end": 1.0}
BOLD = re.compile(r"bold|[6-9]00|1000")


@dataclass
class Letter:
    """A character with its style, and where it is to be: absolutely, or from where it would be."""

    character: str
    style: Style
    x: float | None = None
    y: float | None = None
    dx: float = 0.0
    dy: float = 0.0


@dataclass(frozen=True)
class Run:
    """Letters of one style and font: the segments of their glyphs, filled or to be followed."""

    style: Style
    filled: bool
    segments: Segments


def runs(element: Element, style: Style, style_of: StyleOf, viewport: Viewport, fonts: FontOf) -> list[Run]:
    """Set a ``<text>``.

    Parameters
    ----------
    style_of
        Gives the style of an element inside another of some style, None if it is not rendered.
    fonts
        Gives the fonts of families.

    Raises
    ------
    ValueError
        If the text needs what is not read, or a font that is not there.
    """
    letters = _letters(element, style, style_of, viewport)
    styles = {id(letter.style): letter.style for letter in letters}
    found = {key: _font(each, letters, fonts) for key, each in styles.items()}
    placed = list(_placed(letters, [found[id(letter.style)] for letter in letters]))
    made = []
    for _, group in groupby(zip(letters, placed, strict=True), key=lambda pair: id(pair[0].style)):
        pairs = list(group)
        own, font = pairs[0][0].style, found[id(pairs[0][0].style)]
        size = _size(own) / font.em
        segments = [s for letter, at in pairs for s in _segments(font.glyphs[letter.character], size, at)]
        made.append(Run(own, font.filled, segments))
    return made


def _letters(element: Element, style: Style, style_of: StyleOf, viewport: Viewport) -> list[Letter]:
    """List the characters of a text, white space drawn together, with what is stated of their places."""
    raw: list[Letter] = []
    spans: list[tuple[Element, int, int]] = []
    _gather(element, style, style_of, raw, spans)
    kept = _spaced(raw, preserved=element.attributes.get("xml:space") == "preserve")
    letters = [letter for letter, keep in zip(raw, kept, strict=True) if keep]
    before = [0]
    for keep in kept:
        before.append(before[-1] + keep)
    for node, start, stop in reversed(spans):  # inner elements after those around them, which they override
        for name, whole in zip(("x", "y", "dx", "dy"), viewport * 2, strict=True):
            written = re.split(r"[\s,]+", node.attributes.get(name, "").strip())
            values = [length(value, whole) for value in written[:MOST_PLACES] if value]
            for letter, value in zip(letters[before[start] : before[stop]], values, strict=False):
                setattr(letter, name, value)
    return letters


def _gather(
    node: Element, style: Style, style_of: StyleOf, raw: list[Letter], spans: list[tuple[Element, int, int]]
) -> None:
    start = len(raw)
    _refuse(node, style)
    for child in node.children:
        if child.tag == "#text":
            raw += [Letter(character, style) for character in unicodedata.normalize("NFC", child.text)]
        elif child.tag in ("tspan", "a"):
            inner = style_of(child, style)
            if inner is not None:
                _gather(child, inner, style_of, raw, spans)
        elif child.tag not in LEFT_OUT:
            raise ValueError(f"<{child.tag[:40]}> in a text cannot be marked; convert the text to paths")
    spans.append((node, start, len(raw)))


def _refuse(node: Element, style: Style) -> None:
    for name, allowed in UNREAD.items():
        if style[name].lower() not in allowed:
            raise ValueError(f"{name} {shortened(style[name])} is not read; convert the text to paths")
    for name in ("rotate", "textLength"):
        if name in node.attributes:
            raise ValueError(f"{name} of a text is not read; convert the text to paths")


def _spaced(raw: Sequence[Letter], *, preserved: bool) -> list[bool]:
    """Turn white space to spaces, and say which characters are kept (CSS Text 3, section 4.1)."""
    kept = [True] * len(raw)
    last: int | None = None
    for k, letter in enumerate(raw):
        if letter.character in "\t\n\r":
            letter.character = " "
        if not preserved and letter.character == " ":
            kept[k] = last is not None and raw[last].character != " "
        last = k if kept[k] else last
    if not preserved and last is not None and raw[last].character == " ":
        kept[last] = False
    return kept


def _font(style: Style, letters: Sequence[Letter], fonts: FontOf) -> Font:
    """Find the font of a style, with the characters that are set in it."""
    text = "".join(dict.fromkeys(letter.character for letter in letters if letter.style is style))
    for character in text:
        if unicodedata.bidirectional(character) in LEFTWARD or unicodedata.category(character) in MARKS:
            raise ValueError(f"{character!r} must be joined or put in order; convert the text to paths")
    families = [name.strip(" '\"") for name in (style["font-family"] or DEFAULT).split(",")]
    kind = " bold" if BOLD.fullmatch(style["font-weight"].lower()) else ""
    kind += " italic" if style["font-style"].lower() != "normal" else ""
    for family in families:
        font = fonts(family + kind, "".join(dict.fromkeys(text + LATIN)))
        if font is not None:
            if missing := font.missing(text):
                names = ", ".join(f"{c!r} (U+{ord(c):04X})" for c in missing[:8])
                raise ValueError(f"the font {font.name!r} has no {names}")
            return font
    name = (families[0] + kind).strip()
    raise ValueError(
        f"text in {shortened(name)} cannot be marked as it is; convert it to paths, or name a "
        f'font for it in the artwork, as fonts = {{ "{name[:40]}" = "broad" }}'
    )


def _placed(letters: Sequence[Letter], fonts: Sequence[Font]) -> Iterator[complex]:
    """Give where each letter stands, one chunk after the other, each moved by its anchor."""
    at, chunk = 0j, list[tuple[complex, float]]()
    anchor = 0.0
    for k, (letter, font) in enumerate(zip(letters, fonts, strict=True)):
        if letter.x is not None or letter.y is not None or k == 0:
            yield from _anchored(chunk, anchor)
            chunk, anchor = [], _anchor(letter.style)
            at = complex(at.real if letter.x is None else letter.x, at.imag if letter.y is None else letter.y)
        at += complex(letter.dx, letter.dy)
        size = _size(letter.style) / font.em
        advance = font.glyphs[letter.character].advance * size
        chunk.append((at, advance))
        pair = "".join(each.character for each in letters[k : k + 2] if each.style is letter.style)
        kern = font.kerning.get(pair, 0.0) * size if letter.style["font-kerning"] != "none" else 0.0
        spaced = [letter.style["letter-spacing"]] + [letter.style["word-spacing"]] * (letter.character == " ")
        at += advance + kern + sum(length(value, None) for value in spaced if value != "normal")
    yield from _anchored(chunk, anchor)


def _anchored(chunk: Sequence[tuple[complex, float]], anchor: float) -> list[complex]:
    if not chunk or not anchor:
        return [at for at, _ in chunk]
    ends = [end for at, advance in chunk for end in (at.real, at.real + advance)]
    shift = chunk[0][0].real - min(ends) - anchor * (max(ends) - min(ends))
    return [at + shift for at, _ in chunk]


def _anchor(style: Style) -> float:
    share = ANCHORS.get(style["text-anchor"].lower())
    if share is None:
        raise ValueError(f"text-anchor {shortened(style['text-anchor'])} is not understood")
    return share


def _size(style: Style) -> float:
    size = length(style["font-size"], None)
    if size < 0:
        raise ValueError(f"font-size {shortened(style['font-size'])} is below 0")
    return size


def _segments(glyph: Glyph, size: float, at: complex) -> Segments:
    """Draw a glyph in user units, whose y points down."""
    return [s for contour in glyph.contours for s in _traced(contour, size, at)]


def _traced(contour: Contour, size: float, at: complex) -> Segments:
    points = [at + complex(x * size, -y * size) for x, y, _ in contour.vertices]
    ends = [*points[1:], points[0]] if contour.closed else points[1:]
    found: Segments = [Move(points[0])]
    for (_, _, bulge), start, end in zip(contour.vertices, points, ends, strict=False):
        if bulge:
            radius = abs(end - start) * (1 + bulge**2) / (4 * abs(bulge))
            found.append(Arc(start, complex(radius, radius), 0, abs(bulge) > 1, bulge < 0, end))
        else:
            found.append(Line(start, end))
    return [*found, Close(points[0], points[0])] if contour.closed else found
