"""What is understood of SVG drawings, compared with a browser's pictures of them."""

import zipfile
from importlib import resources
from pathlib import Path

import numpy as np
import pytest

from nesting.geometry.stroke import outlined
from nesting_adapters.svg_reader import SvgReader
from tests import browser
from tests.adapters.rendered import coverage
from tests.adapters.svg_drawings import DRAWINGS

WIDTH, HEIGHT = 800, 400

OFF = 0.3
"""A pixel differs if the shares that are covered differ by more; edges stay below."""

LIMIT = 0.0002
"""Share of a picture's pixels that may differ."""

DASHED_LIMIT = 0.002
"""The same where dashes follow curves: the browser measures a curve's length less exactly."""

ICONS = 320
ICON_PX = 400
BATCH = 110


def _write(folder: Path, drawings: dict[str, str]) -> list[Path]:
    files = [folder / f"{name}.svg" for name in drawings]
    for file, text in zip(files, drawings.values(), strict=True):
        file.write_text(text, encoding="utf-8")
    return files


def test_drawings_look_as_in_a_browser(tmp_path: Path) -> None:
    """Each of more than 60 drawings covers the pixels that headless chromium covers."""
    files = _write(tmp_path, DRAWINGS)
    wrong = {}
    for file, picture in zip(files, browser.pictures(files, WIDTH, HEIGHT, tmp_path), strict=True):
        ours = coverage(outlined(SvgReader().read(file)), WIDTH, HEIGHT)
        differs = float(np.mean(np.abs(ours - picture[:, :, 3] / 255) > OFF))
        if differs > (DASHED_LIMIT if "dasharray" in DRAWINGS[file.stem] else LIMIT):
            wrong[file.stem] = differs
    assert len(files) >= 60
    assert not wrong


def _icons() -> dict[str, str]:
    """Icons of the package heroicons (MIT licence), some of each of its styles."""
    pytest.importorskip("heroicons", reason="heroicons, a package of icons for tests, is not installed")
    with resources.as_file(resources.files("heroicons") / "heroicons.zip") as archive:
        content = zipfile.ZipFile(archive)
        names = sorted(name for name in content.namelist() if name.endswith(".svg"))
        chosen = names[:: len(names) // ICONS]
        return {name.replace("/", "-")[:-4]: content.read(name).decode() for name in chosen}


def _box(seen: "np.ndarray[tuple[int, int], np.dtype[np.float64]]") -> tuple[float, float, float, float]:
    """Extent of what is covered, in shares of the picture, to a part of a pixel."""
    ends = []
    for most in (seen.max(axis=0), seen.max(axis=1)):
        full = np.flatnonzero(most > 0.02)
        ends.append((full[0] + 1 - most[full[0]], full[-1] + most[full[-1]]))
    (left, right), (top, bottom) = ends
    return left / seen.shape[1], top / seen.shape[0], right / seen.shape[1], bottom / seen.shape[0]


@pytest.mark.slow
def test_icons_have_the_area_and_extent_a_browser_draws(tmp_path: Path) -> None:
    """More than 300 icons are read; area and bounding box are within 0.5 % of chromium's."""
    files = _write(tmp_path, _icons())
    assert len(files) >= 300
    wrong = {}
    batches = [files[k : k + BATCH] for k in range(0, len(files), BATCH)]
    seen = [p for batch in batches for p in browser.pictures(batch, ICON_PX, ICON_PX, tmp_path)]
    for file, picture in zip(files, seen, strict=True):
        theirs = picture[:, :, 3] / 255
        ours = coverage(outlined(SvgReader().read(file)), ICON_PX, ICON_PX)
        area = abs(ours.sum() / theirs.sum() - 1)
        box = float(np.abs(np.subtract(_box(ours), _box(theirs))).max())
        if area > 0.005 or box > 0.005:
            wrong[file.stem] = (round(float(area), 4), round(box, 4))
    assert not wrong
