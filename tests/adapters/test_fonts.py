"""Fonts: the packaged ones, and font files."""

from pathlib import Path

import pytest
from fontTools.fontBuilder import FontBuilder
from fontTools.pens.ttGlyphPen import TTGlyphPen

from nesting.errors import InputError
from nesting_adapters.font_files import FontFiles
from nesting_adapters.stroke_font import StrokeFonts
from nesting_adapters.stroke_glyphs import GLYPHS


@pytest.mark.parametrize("name", StrokeFonts.packaged)
def test_every_glyph_is_drawn_between_its_limits(name: str) -> None:
    """No glyph reaches left of its start, beyond its advance, or far above the capitals or below."""
    font = StrokeFonts().read(name, "".join(GLYPHS) + "ÄéñŽåÇŐůźż")
    assert font.missing("".join(GLYPHS) + "ÄéñŽåÇŐůźż") == ""
    for character, glyph in font.glyphs.items():
        assert (not glyph.contours) == (character == " ")
        for x0, y0, x1, y1 in (contour.bounds for contour in glyph.contours):
            assert x0 >= -0.08 and x1 <= glyph.advance and y0 >= -0.4 and y1 <= 1.45, character


def test_capitals_are_one_high_and_lines_stay_lines() -> None:
    """The single-line font is followed at a capital height of 1; the broad one is filled."""
    round_font, broad = StrokeFonts().read("round", "H"), StrokeFonts().read("broad", "H")
    heights = [c.bounds[3] - c.bounds[1] for c in round_font.glyphs["H"].contours]
    assert max(heights) == pytest.approx(1) and not round_font.filled
    (outline,) = broad.glyphs["H"].contours
    # three lines of 10, 10 and 7.5 with a pen of 1.5 and round ends, less where they cross, over 100
    assert broad.filled and 0.36 < outline.area < 0.45


def test_a_letter_that_is_not_there_is_missing() -> None:
    """Neither a foreign letter nor a mark that was not drawn is replaced by something else."""
    assert StrokeFonts().read("round", "aЖ漢").missing("aЖ漢") == "Ж漢"


def font_file(folder: Path) -> Path:
    """Make a font of one glyph: a square of 700 with a hole of 300, its capitals 700 high."""
    pen = TTGlyphPen(None)
    for first, *others in (
        ((0, 0), (0, 700), (700, 700), (700, 0)),
        ((200, 200), (500, 200), (500, 500), (200, 500)),
    ):
        pen.moveTo(first)
        for point in others:
            pen.lineTo(point)
        pen.closePath()
    bent = TTGlyphPen(None)
    bent.moveTo((0, 0))
    bent.qCurveTo((0, 700), (700, 700))
    bent.lineTo((700, 0))
    bent.closePath()
    empty = TTGlyphPen(None).glyph()
    builder = FontBuilder(1000, isTTF=True)
    builder.setupGlyphOrder([".notdef", "H", "D"])
    builder.setupCharacterMap({ord("H"): "H", ord("D"): "D"})
    builder.setupGlyf({".notdef": empty, "H": pen.glyph(), "D": bent.glyph()})
    builder.setupHorizontalMetrics({".notdef": (500, 0), "H": (840, 0), "D": (840, 0)})
    builder.setupHorizontalHeader(ascent=800, descent=-200)
    builder.setupOS2(sCapHeight=700, version=4)
    builder.setupPost()
    builder.save(folder / "x.ttf")
    return folder / "x.ttf"


def test_a_font_file_is_read_at_the_height_of_its_capitals(tmp_path: Path) -> None:
    """Outlines, hole and advance come in shares of the capitals' height; curves keep their area."""
    font = FontFiles().read(str(font_file(tmp_path)), "HDx")
    assert font.missing("HDx") == "x" and font.filled
    glyph = font.glyphs["H"]
    assert glyph.advance == pytest.approx(1.2)
    assert sorted(abs(c.area) for c in glyph.contours) == pytest.approx([(3 / 7) ** 2, 1])
    assert len({c.area > 0 for c in glyph.contours}) == 2
    # a parabola cuts a third of the square's half off the corner: 1/2 + 1/3 is left
    assert abs(font.glyphs["D"].contours[0].area) == pytest.approx(5 / 6, rel=1e-3)


@pytest.mark.parametrize("keep", [0, 4, 12, 100, 400])
def test_a_broken_font_is_refused(keep: int, tmp_path: Path) -> None:
    """A font cut off anywhere is a named error."""
    path = font_file(tmp_path)
    path.write_bytes(path.read_bytes()[:keep])
    with pytest.raises(InputError, match=r"x\.ttf"):
        FontFiles().read(str(path), "HD")
