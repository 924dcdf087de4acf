"""A font: the outlines or strokes of the characters that are needed, and how far each moves on."""

from dataclasses import dataclass, field

from nesting.geometry.contour import Contour


@dataclass(frozen=True)
class Glyph:
    """One character: its contours with the baseline at y = 0, and how far it moves on, in mm."""

    advance: float
    contours: tuple[Contour, ...] = ()


@dataclass(frozen=True)
class Font:
    """Characters at a capital height of 1 mm.

    Attributes
    ----------
    name
        Name of the font.
    filled
        Whether glyphs are areas (by the non-zero rule) or strokes to be followed.
    glyphs
        The characters that were asked for and are there.
    kerning
        What is added between two characters, by the two as one text.
    em
        Size of the font, as other programs state it, in heights of its capitals; 1/0.7 is common
        practice where a font does not say it.
    """

    name: str
    filled: bool
    glyphs: dict[str, Glyph]
    kerning: dict[str, float] = field(default_factory=dict)
    em: float = 1 / 0.7

    def missing(self, text: str) -> str:
        """List the characters of a text that the font does not have, each once.

        >>> Font("dots", False, {"a": Glyph(1.0)}).missing("abba")
        'b'
        """
        return "".join(dict.fromkeys(c for c in text if c not in self.glyphs))
