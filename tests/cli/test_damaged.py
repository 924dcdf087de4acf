"""Damaged files, as an operator meets them."""

import shutil
import tomllib
from pathlib import Path

import pytest

from nesting.cli import main
from nesting.examples import write_example

TESTS = Path(__file__).parents[1]
JOBS = TESTS / "job" / "bad"
DRAWINGS = sorted((TESTS / "adapters" / "bad_svg").glob("*.svg"))
EXPECTED = tomllib.loads((JOBS / "expected.toml").read_text(encoding="utf-8"))


def _refusal(job: Path, out: Path, capsys: pytest.CaptureFixture[str]) -> str:
    """Plan a job that must be refused, and give what was said."""
    assert main(["plan", str(job), "--out", str(out)]) == 2
    said = capsys.readouterr()
    assert said.out == "" and "Traceback" not in said.err and not out.exists()
    return said.err


@pytest.mark.parametrize("name", EXPECTED)
def test_damaged_jobs_end_in_2(name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A damaged job or order list ends in exit code 2 with each place, and nothing is written."""
    said = _refusal(JOBS / name, tmp_path / "out", capsys)
    assert all(place in said for place in EXPECTED[name].get("at", {}))


@pytest.mark.parametrize("drawing", DRAWINGS, ids=lambda path: path.stem)
def test_damaged_drawings_end_in_2(drawing: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A damaged or hostile drawing ends in exit code 2 with its name, and nothing is written."""
    write_example("first", tmp_path / "job")
    shutil.copy(drawing, tmp_path / "job" / "art" / "sun.svg")
    assert "sun.svg" in _refusal(tmp_path / "job" / "job.toml", tmp_path / "out", capsys)
