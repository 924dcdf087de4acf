"""The helper that asks a browser for pictures."""

from pathlib import Path

import numpy as np

from tests import browser

SVG = '<svg xmlns="http://www.w3.org/2000/svg" width="40" height="20"><rect width="{}" height="20"/></svg>'


def test_each_drawing_has_its_own_cell(tmp_path: Path) -> None:
    """Drawings come back in their order, on a transparent ground, each filled as far as it says."""
    files = []
    for k in range(5):
        files.append(tmp_path / f"{k}.svg")
        files[-1].write_text(SVG.format(10 * k))
    for k, picture in enumerate(browser.pictures(files, 2000, 200, tmp_path)):
        assert picture.shape == (200, 2000, 4)
        assert np.mean(picture[:, :, 3] > 127) == k / 4
