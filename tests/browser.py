"""Pictures of pages and drawings as a browser sees them; tests skip, with a reason, where there is none."""

import html
import os
import shutil
import subprocess
import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from numpy.typing import NDArray

if TYPE_CHECKING:
    from playwright.sync_api import BrowserContext

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


@contextmanager
def driven() -> Iterator[Callable[..., "BrowserContext"]]:
    """Open browsers that a test can click and type in, one a call; a `profile` is a folder that remembers."""
    driver = pytest.importorskip("playwright.sync_api", reason="playwright is needed to drive a browser")
    how: dict[str, Any] = {"executable_path": browser(), "args": ["--no-sandbox"]}
    with driver.sync_playwright() as playwright:
        shared = playwright.chromium.launch(**how)

        def opened(profile: Path | None = None) -> "BrowserContext":
            context: BrowserContext = (
                shared.new_context()
                if profile is None
                else playwright.chromium.launch_persistent_context(profile, **how)
            )
            return context

        try:
            yield opened
        finally:
            shared.close()


def axe() -> str:
    """Find axe-core, the accessibility checks of the npm package of that name; skip if it is not there."""
    places = [
        os.environ.get("NESTING_AXE", ""),
        str(Path(__file__).parents[1] / "node_modules" / "axe-core" / "axe.min.js"),
    ]
    found = next((place for place in places if place and Path(place).is_file()), None)
    if found is None:
        pytest.skip("no axe-core: run 'npm install --no-save axe-core', or let NESTING_AXE name axe.min.js")
    return Path(found).read_text(encoding="utf-8")
