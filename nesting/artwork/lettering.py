"""Sets a text in lines of a font."""

import unicodedata
from collections.abc import Iterator, Sequence
from itertools import pairwise

from nesting.geometry.contour import Contour
from nesting.geometry.drawing import Drawing, Shape
from nesting.geometry.font import Font
from nesting.job.job import Lettering

_SHARES = {"left": 0.0, "centre": 0.5, "right": 1.0}


def settings_of(lettering: Lettering, text: str) -> Iterator[Drawing]:
    """Set a text in one line, in two and so on, as many as the lettering allows and the text has words.

    Lines break between words so that the longest line is as short as it can be. Capitals are
    `lettering.size` mm high, and the first baseline is at y = 0.
    """
    words = unicodedata.normalize("NFC", text).split()
    for count in range(1, min(lettering.lines, len(words)) + 1):
        yield _set(lettering, wrapped(lettering.font, words, count))


def wrapped(font: Font, words: Sequence[str], count: int) -> list[str]:
    """Split words into `count` lines, the longest as short as it can be.

    >>> from nesting.geometry.font import Glyph
    >>> dots = Font("dots", False, {c: Glyph(1.0) for c in "ab "})
    >>> wrapped(dots, ["aaaa", "b", "bb", "a"], 2)
    ['aaaa', 'b bb a']
    """
    best: dict[int, tuple[float, tuple[int, ...]]] = {0: (0.0, (0,))}
    for line in range(1, count + 1):
        longer: dict[int, tuple[float, tuple[int, ...]]] = {}
        for end in range(line, len(words) + 1):
            choices = (
                (max(best[start][0], width(font, " ".join(words[start:end]))), (*best[start][1], end))
                for start in best
                if start < end
            )
            longer[end] = min(choices)
        best = longer
    return [" ".join(words[a:b]) for a, b in pairwise(best[len(words)][1])]


def width(font: Font, line: str) -> float:
    """Measure how far a line moves on, at a capital height of 1 mm."""
    return places(font, line)[-1]


def places(font: Font, line: str) -> list[float]:
    """Give x of each character of a line, and of what would follow it, at a capital height of 1 mm."""
    found = [0.0]
    for k, character in enumerate(line):
        kern = font.kerning.get(line[k : k + 2], 0.0) if k + 1 < len(line) else 0.0
        found.append(found[-1] + font.glyphs[character].advance + kern)
    return found


def _set(lettering: Lettering, lines: Sequence[str]) -> Drawing:
    font, size = lettering.font, lettering.size
    widths = [width(font, line) for line in lines]
    contours: list[Contour] = []
    for row, (line, wide) in enumerate(zip(lines, widths, strict=True)):
        left = (max(widths) - wide) * _SHARES[lettering.align]
        for x, character in zip(places(font, line), line, strict=False):
            shift = (left + x) * size, -row * lettering.spacing * size
            contours += [c.scaled(size).moved(*shift) for c in font.glyphs[character].contours]
    shape = Shape(tuple(contours), filled=font.filled, stroked=not font.filled)
    return Drawing(max(widths) * size, size, (shape,) if contours else ())
