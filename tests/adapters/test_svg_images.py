"""Pictures inside SVG drawings: as a browser shows them, and those that are refused."""

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from nesting.errors import InputError
from nesting.geometry.drawing import Drawing
from nesting.job import inlays
from nesting.job.inlays import dots_in, traced
from nesting.ports import Tracing
from nesting_adapters.raster_reader import RasterReader
from nesting_adapters.svg_reader import SvgReader
from tests import browser
from tests.adapters.rendered import coverage
from tests.adapters.svg_drawings import PAGE
from tests.adapters.svg_images import GREYS, OUTLINES, B

WIDTH, HEIGHT = 800, 400

OFF = 0.5
"""Inside an outline or not, as the browser's pixel is dark or not: its edges are soft, ours sharp."""

LIMIT = 0.0005
"""Share of the pixels that may differ: those along the edges."""

SHADE = 0.06
"""Greys may differ by so much: pixels that are turned are sampled anew."""

EDGES = 0.006
"""Share of the pixels whose greys may differ by more: along edges that are cut or turned."""

Floats = NDArray[np.float64]


def _read(drawings: dict[str, str], folder: Path) -> tuple[list[Path], list[Floats]]:
    """Write drawings, and give the darkness that a browser shows."""
    files = [folder / f"{name}.svg" for name in drawings]
    for file, text in zip(files, drawings.values(), strict=True):
        file.write_text(text, encoding="utf-8")
    return files, [_darkness(p) for p in browser.pictures(files, WIDTH, HEIGHT, folder)]


def _darkness(picture: browser.Picture) -> Floats:
    """Darkness on white paper, by the weights of Recommendation ITU-R BT.601."""
    light = picture[:, :, :3] @ np.array([0.299, 0.587, 0.114]) / 255
    return np.asarray((1 - light) * picture[:, :, 3] / 255)


def test_outlines_of_pictures_lie_where_a_browser_shows_them(tmp_path: Path) -> None:
    """Outlines found in pictures cover the pixels that headless chromium shows dark."""
    files, shown = _read(OUTLINES, tmp_path)
    wrong = {}
    for file, dark in zip(files, shown, strict=True):
        drawing = traced(SvgReader().read(file), Tracing(), RasterReader(), file)
        differs = float(np.mean(np.abs(coverage(drawing, WIDTH, HEIGHT) - (dark > OFF)) > OFF))
        if differs > LIMIT or not dark.any():
            wrong[file.stem] = differs
    assert not wrong


def test_greys_of_pictures_are_those_a_browser_shows(tmp_path: Path) -> None:
    """The pictures of which dots are made are as dark as in headless chromium, pixel by pixel."""
    files, shown = _read(GREYS, tmp_path)
    wrong = {}
    for file, dark in zip(files, shown, strict=True):
        off = np.abs(_greys(SvgReader().read(file)) - dark)
        if np.mean(off > SHADE) > EDGES or off.mean() > SHADE / 8:
            wrong[file.stem] = round(float(np.mean(off > SHADE)), 4), round(float(off.mean()), 4)
    assert not wrong


def _greys(drawing: Drawing) -> Floats:
    """Sample a drawing's pictures, upright now, at the middles of the pixels, and its areas on top."""
    mm = drawing.width / WIDTH
    x, y = np.meshgrid((np.arange(WIDTH) + 0.5) * mm, drawing.height - (np.arange(HEIGHT) + 0.5) * mm)
    dark = coverage(drawing, WIDTH, HEIGHT)
    for dots in dots_in(drawing, "diffusion", 0.5):
        picture = dots.picture
        column = ((x - dots.x) / picture.width * picture.columns).astype(int)
        row = ((y - dots.y) / picture.height * picture.rows).astype(int)
        there = (x >= dots.x) & (y >= dots.y) & (column < picture.columns) & (row < picture.rows)
        dark[there] += picture.darkness[row[there], column[there]]
    return dark


BAD = {
    "no link": ("", "allowed: a picture inside the file"),
    "file": ("photo.png", "found 'photo.png'"),
    "web": ("http://example.org/a.png", "allowed: a picture inside the file"),
    "drawing inside": ("data:image/svg+xml;base64,PHN2Zy8+", "allowed: a picture inside the file"),
    "no base64": ("data:image/png;base64,@@@@", "is no base64"),
    "cut base64": (B[:1001], "is no base64"),
    "cut picture": (B[:1002] + "==", "broken"),
    "not a picture": ("data:image/png;base64,aGVsbG8=", "no picture that is read"),
}


@pytest.mark.parametrize("name", BAD)
def test_pictures_that_are_not_there_are_refused(name: str, tmp_path: Path) -> None:
    """A link out of the file, or to what is no picture, is an error with line and element."""
    href, message = BAD[name]
    with pytest.raises(InputError, match=r"line 1, <image>") as caught:
        _drawn(f'<image width="9" height="9" href="{href}"/>', tmp_path)
    assert message in str(caught.value)


def test_a_picture_that_the_page_cuts_off_is_refused(tmp_path: Path) -> None:
    """Pictures keep to the page as shapes do, unless a clip path cuts them first."""
    with pytest.raises(InputError, match="outside the page"):
        _drawn(f'<image x="30" width="24" height="16" href="{B}"/>', tmp_path)
    clip = '<clipPath id="c"><rect width="40" height="20"/></clipPath>'
    assert _drawn(
        f'{clip}<image x="30" width="24" height="16" clip-path="url(#c)" href="{B}"/>', tmp_path
    ).inlays


def test_no_more_pixels_are_copied_than_are_read(tmp_path: Path) -> None:
    """Copies of a picture count as often as they are shown."""
    uses = '<use href="#i"/>' * 300
    with pytest.raises(InputError, match="copies"):
        _drawn(f'<defs><image id="i" width="9" height="6" href="{B}"/></defs>{uses}', tmp_path)


def test_outlines_of_all_pictures_are_counted(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Pictures that have few outlines each may have too many together."""
    drawing = _drawn(f'<image width="9" height="6" href="{B}"/>' * 3, tmp_path)
    assert len(traced(drawing, Tracing(), RasterReader(), tmp_path).contours) == 9
    monkeypatch.setattr(inlays, "MOST_OUTLINES", 8)
    with pytest.raises(InputError, match="more than 8 outlines"):
        traced(drawing, Tracing(), RasterReader(), tmp_path)


def _drawn(body: str, folder: Path) -> Drawing:
    (folder / "x.svg").write_text(f"{PAGE}{body}</svg>", encoding="utf-8")
    return SvgReader().read(folder / "x.svg")
