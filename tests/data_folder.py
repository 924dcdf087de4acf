"""Where the open benchmark data lie, for the tests that read them."""

import os
from pathlib import Path


def data_folder() -> Path | None:
    """Find the folder: NESTING_DATA, or ``shared/data`` beside the repository; None if absent."""
    beside = Path(__file__).resolve().parents[2] / "shared" / "data"
    folder = Path(os.environ.get("NESTING_DATA", beside))
    return folder if folder.is_dir() else None
