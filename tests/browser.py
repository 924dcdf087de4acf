"""Pictures of pages and drawings as a browser sees them; tests skip, with a reason, where there is none."""

import html
import shutil
import subprocess
import tempfile
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

NAMES = ("chromium", "chromium-browser", "chrome", "headless_shell")
ACROSS_PX = 8000
"""A contact sheet gets no wider: a headless browser fails at some 16,000 px."""

Picture = NDArray[np.uint8]


def browser() -> str:
    """Find a browser that runs without a screen; the calling test is skipped if there is none."""
    found = next(filter(None, map(shutil.which, NAMES)), None)
    if found is None:
        pytest.skip(f"no browser is installed (looked for {', '.join(NAMES)})")
    return found


def screenshot(page: Path, target: Path, width: int, height: int, scale: float = 1.0) -> Picture:
    """Render a page, HTML or SVG, in a window of `width` x `height` CSS px and write it to `target` as PNG.

    Parameters
    ----------
    scale
        Pixels in one CSS px.

    Returns
    -------
    The picture, shape (height, width, 4), red, green, blue and opacity.
    """
    image = pytest.importorskip("PIL.Image", reason="pillow is needed to look at a picture")
    with tempfile.TemporaryDirectory(prefix="browser-") as profile:
        command = [
            browser(), "--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking",
            "--no-first-run", "--hide-scrollbars", "--allow-file-access-from-files",
            "--default-background-color=00000000", f"--force-device-scale-factor={scale:g}",
            f"--user-data-dir={profile}", f"--window-size={width},{height}", f"--screenshot={target}",
            page.resolve().as_uri(),
        ]  # fmt: skip
        subprocess.run(command, check=True, timeout=240, capture_output=True)
    with image.open(target) as picture:
        return np.array(picture.convert("RGBA"))


def pictures(drawings: Sequence[Path], width: int, height: int, folder: Path) -> list[Picture]:
    """Render many SVG drawings, each stretched to `width` x `height` px, by one run of the browser.

    Parameters
    ----------
    folder
        Where the contact sheet is put.
    """
    across = max(1, min(len(drawings), ACROSS_PX // width))
    places = [(k % across * width, k // across * height) for k in range(len(drawings))]
    cells = [
        f'<img src="{html.escape(file.resolve().as_uri())}" '
        f'style="position:absolute;left:{x}px;top:{y}px;width:{width}px;height:{height}px">'
        for file, (x, y) in zip(drawings, places, strict=True)
    ]
    sheet = folder / "contact-sheet.html"
    sheet.write_text(f'<!doctype html><body style="margin:0">{"".join(cells)}</body>', encoding="utf-8")
    size = across * width, (-(-len(drawings) // across)) * height
    whole = screenshot(sheet, folder / "contact-sheet.png", *size)
    return [whole[y : y + height, x : x + width] for x, y in places]
