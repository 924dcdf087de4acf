"""``nesting plan --extend``, run as an operator runs it."""

from pathlib import Path

import pytest

from nesting import load_plan
from nesting.cli import main

QUICK = ["--effort", "1", "--formats", "json,csv,html"]

NEW = '\n[[orders]]\nblank = "tag"\nquantity = 2\nartwork = "sun"\n'


@pytest.fixture
def job(tmp_path: Path) -> Path:
    """Plan the small example, and then let two tags be ordered in addition."""
    assert main(["example", "first", str(tmp_path / "first")]) == 0
    job = tmp_path / "first" / "job.toml"
    assert main(["plan", str(job), "--out", str(tmp_path / "out"), *QUICK]) == 0
    job.write_text(job.read_text(encoding="utf-8") + NEW, encoding="utf-8")
    return job


def _contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_only_what_is_new_is_planned(job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The summary says which pockets are filled and what is not made again; the old folder stays."""
    out, more = tmp_path / "out", tmp_path / "more"
    before = _contents(out)
    capsys.readouterr()
    assert main(["plan", str(job), "--extend", str(out / "plan.json"), "--out", str(more), *QUICK]) == 0
    said = capsys.readouterr().out
    assert "2 units in 1 load on 1 kept sheet, nothing to cut" in said
    assert "kept sheet A: load 1 in pockets" in said and "not made again: order 1: 1-4" in said
    assert _contents(out) == before
    assert main(["check", str(more / "plan.json")]) == 0
    (load,) = load_plan(more / "plan.json").loads
    assert {filling.unit.line for filling in load.fillings} == {"order 4"}


def test_what_cannot_be_extended_is_refused(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Nothing new, another order under an old name, and the plan's own folder are refused."""
    out, written = tmp_path / "out", job.read_text(encoding="utf-8")
    before, extend = _contents(out), ["plan", str(job), "--extend", str(out / "plan.json"), *QUICK]
    assert main([*extend, "--out", str(out)]) == 2
    assert "is to stay" in capsys.readouterr().err
    job.write_text(written.removesuffix(NEW), encoding="utf-8")
    assert main([*extend, "--out", str(tmp_path / "more")]) == 2
    assert "every unit is in the plan already" in capsys.readouterr().err
    job.write_text(written.replace("quantity = 4", "quantity = 3"), encoding="utf-8")
    assert main([*extend, "--out", str(tmp_path / "more")]) == 2
    assert "the plan makes units 1-4" in capsys.readouterr().err
    assert _contents(out) == before and not (tmp_path / "more").exists()
