# ruff: noqa: E501 -- a drawing is easier to follow on one line
"""Texts of SVG drawings: set in fonts as a browser sets them, or refused."""

import base64
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest

from nesting.errors import InputError
from nesting.geometry.drawing import Drawing
from nesting.geometry.font import Font
from nesting.geometry.stroke import outlined
from nesting.job.load import load_job
from nesting_adapters.font_files import FontFiles
from nesting_adapters.stroke_font import StrokeFonts
from nesting_adapters.svg_reader import SvgReader
from tests import browser
from tests.adapters.rendered import coverage
from tests.adapters.svg_drawings import PAGE

WIDTH, HEIGHT = 800, 400

OFF = 0.3
"""A pixel differs if the shares that are covered differ by more."""

LIMIT = 0.005
"""Share of the pixels that may differ: a browser puts letters to parts of a pixel."""

TEXTS = {
    "plain": '<text x="3" y="12" font-size="8">AVTo Wa</text>',
    "anchors": '<text x="20" y="8" font-size="5" text-anchor="middle">Middle</text><text x="38" y="17" font-size="5" text-anchor="end">End, it</text>',
    "anchored_lines": '<text text-anchor="end" font-size="4" y="6" x="20">right<tspan x="20" y="12">aligned</tspan><tspan x="30" dy="5">more</tspan></text>',
    "spans": '<text x="2" y="8" font-size="5">one <tspan font-size="8">two</tspan> <tspan dy="6" dx="-9">th<tspan fill="none" stroke="black" stroke-width=".3">ree</tspan></tspan></text>',
    "places": '<text x="2 8 14" y="8 10 12 14" font-size="6">abcdef<tspan x="30" y="6">gh</tspan></text>',
    "steps": '<text x="2" y="12" font-size="5" dx="0 1 1 1" dy="0 -2 -2">steps <tspan dy="2 2">down</tspan></text>',
    "white_space": '<text x="2" y="8" font-size="5">\n  a  b\n <tspan> c </tspan>  d  </text><text x="2" y="16" font-size="5" xml:space="preserve">a  b <tspan> c</tspan></text>',
    "spacing": '<text x="2" y="12" font-size="5" letter-spacing="1" word-spacing="2">ab cd</text>',
    "relative_sizes": '<g font-size="4"><text x="10%" y="50%" font-size="150%">abc<tspan font-size=".5em">def</tspan></text></g>',
    "styled": '<style>.t{font-size:7px;text-anchor:middle}</style><text class="t" x="20" y="12">Style</text>',
    "turned": '<g transform="rotate(-10 20 10) skewX(15)"><text x="5" y="14" style="font-size:7px">Ågå ß</text></g>',
    "used": '<defs><text id="t" font-size="6">ab</text></defs><use href="#t" x="3" y="8"/><use href="#t" x="20" y="14"/>',
    "hidden": '<text x="3" y="12" font-size="6">a<tspan visibility="hidden">b</tspan>c<tspan display="none">d</tspan>e</text>',
    "clip": '<clipPath id="c"><text x="2" y="16" font-size="16">Clip</text></clipPath><rect width="40" height="20" clip-path="url(#c)"/>',
}  # fmt: skip


def test_texts_look_as_in_a_browser(tmp_path: Path) -> None:
    """Texts in a font file cover the pixels that headless chromium covers with the same font."""
    pyplot = pytest.importorskip("matplotlib", reason="matplotlib brings a font file (DejaVu Sans)")
    font_file = Path(pyplot.get_data_path()) / "fonts" / "ttf" / "DejaVuSans.ttf"
    data = base64.b64encode(font_file.read_bytes()).decode()
    face = f"@font-face{{font-family:Sign;src:url(data:font/ttf;base64,{data})}}"
    plainly = "text{font-variant-ligatures:none;text-rendering:geometricPrecision}"
    shown = _write({k: f"<style>{face}{plainly}</style>{_sign(v)}" for k, v in TEXTS.items()}, tmp_path, "b-")
    ours = _write({k: _sign(v) for k, v in TEXTS.items()}, tmp_path, "")
    wrong = {}
    for file, picture in zip(ours, browser.pictures(shown, WIDTH, HEIGHT, tmp_path), strict=True):
        drawing = SvgReader().read_lettered(
            file, lambda _, letters: FontFiles().read(str(font_file), letters)
        )
        covered = coverage(outlined(drawing), WIDTH, HEIGHT)
        differs = float(np.mean(np.abs(covered - picture[:, :, 3] / 255) > OFF))
        if differs > LIMIT or not covered.any():
            wrong[file.stem] = differs
    assert not wrong


def _sign(body: str) -> str:
    return f'<g font-family="Sign">{body}</g>'


def _write(bodies: dict[str, str], folder: Path, before: str) -> list[Path]:
    for name, body in bodies.items():
        (folder / f"{before}{name}.svg").write_text(f"{PAGE}{body}</svg>", encoding="utf-8")
    return [folder / f"{before}{name}.svg" for name in bodies]


def _fonts(family: str, characters: str) -> Font | None:
    named = {"Lines": "round", "Areas": "broad", "Areas bold": "broad"}
    return StrokeFonts().read(named[family], characters) if family in named else None


def _read(body: str, folder: Path) -> Drawing:
    (file,) = _write({"x": body}, folder, "")
    return SvgReader().read_lettered(file, _fonts)


def test_a_single_line_font_is_followed(tmp_path: Path) -> None:
    """Its letters are lines without a width, capitals 0.7 of the size high, standing on their baseline."""
    drawing = _read('<text x="4" y="15" font-family="Lines" font-size="10">I</text>', tmp_path)
    (shape,) = drawing.shapes
    assert shape.stroked and not shape.filled and shape.width == 0
    assert drawing.bounds[1::2] == pytest.approx((5, 12))


def test_the_first_family_that_is_named_is_taken(tmp_path: Path) -> None:
    """A list of families, quoted or not, and the bold one, are looked up as they are written."""
    for style in ("Other, 'Areas'", "Areas;font-weight:700", "Lines;font-weight:400"):
        assert _read(f'<text x="4" y="15" style="font-family:{style}">I</text>', tmp_path).shapes


BAD = {
    "no font": ("<text>a</text>", "'default'"),
    "unknown family": ('<text font-family="Sign">a</text>', "'Sign'"),
    "no bold one": ('<text font-family="Lines" font-weight="bold">a</text>', "'Lines bold'"),
    "no such letter": ('<text font-family="Lines" y="9">漢</text>', "U+6F22"),
    "right to left": ('<text font-family="Lines">א</text>', "put in order"),
    "turned letters": ('<text font-family="Lines" rotate="10">a</text>', "rotate"),
    "stated length": ('<text font-family="Lines" textLength="10">a</text>', "textLength"),
    "along a path": ('<text font-family="Lines"><textPath href="#p">a</textPath></text>', "textPath"),
    "upright": ('<text font-family="Lines" writing-mode="tb">a</text>', "writing-mode"),
    "underlined": ('<text font-family="Lines" text-decoration="underline">a</text>', "text-decoration"),
    "shorthand": ('<text style="font:12px Lines">a</text>', "font"),
    "no size": ('<text font-family="Lines" font-size="large">a</text>', "no length"),
    "below 0": ('<text font-family="Lines" font-size="-1">a</text>', "below 0"),
    "unknown anchor": ('<text font-family="Lines" text-anchor="centre">a</text>', "text-anchor"),
    "outside": ('<text font-family="Lines" x="39" y="10">aaa</text>', "outside the page"),
}  # fmt: skip


@pytest.mark.parametrize("name", BAD)
def test_what_is_not_set_is_refused(name: str, tmp_path: Path) -> None:
    """A text that would not come out as drawn is an error with its line, never left out."""
    body, message = BAD[name]
    with pytest.raises(InputError, match="line 1, <") as caught:
        _read(body, tmp_path)
    assert message in str(caught.value)


def test_a_job_names_the_fonts(tmp_path: Path) -> None:
    """`fonts` of an artwork gives a family a font; without it the error says what to write."""
    document = (files("nesting") / "examples" / "first" / "job.toml").read_text(encoding="utf-8")
    document = document[: document.index("[[artworks]]")]
    _write({"sign": '<text x="4" y="15" font-family="Sign Bold">Hi</text>'}, tmp_path, "")
    order = '\n[[orders]]\nblank = "tag"\nquantity = 1\nartwork = "sign"\n'
    artwork = '[[artworks]]\nname = "sign"\nfile = "sign.svg"\n'
    job = tmp_path / "job.toml"
    job.write_text(document + artwork + order, encoding="utf-8")
    with pytest.raises(InputError, match=r'fonts = \{ "Sign Bold" = "broad" \}'):
        load_job(job)
    artwork += 'fonts = { "sign bold" = "round" }\n'
    job.write_text(document + artwork + order, encoding="utf-8")
    content = load_job(job).artworks[0].content
    assert isinstance(content, Drawing) and content.shapes
    job.write_text(document + artwork.replace("round", "rund") + order, encoding="utf-8")
    with pytest.raises(InputError, match="unknown font 'rund'"):
        load_job(job)
