"""Make the pictures of the documentation from the packaged example: ``python docs/make_pictures.py``."""

import tempfile
from pathlib import Path

import nesting
from nesting.examples import write_example

PICTURES = Path(__file__).parent / "pictures"


def main() -> None:
    """Plan the small example and keep the drawing of its sheets and of a load."""
    with tempfile.TemporaryDirectory() as folder:
        write_example("first", Path(folder) / "job")
        plan = nesting.make_plan(nesting.load_job(Path(folder) / "job" / "job.toml"), effort=2)
        nesting.write_plan(plan, Path(folder) / "out", formats=["svg"])
        (PICTURES / "load.svg").write_bytes((Path(folder) / "out" / "load-01-marks.svg").read_bytes())
    (PICTURES / "sheets.svg").write_text(plan._repr_svg_(), encoding="utf-8")


if __name__ == "__main__":
    main()
