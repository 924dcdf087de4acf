"""``nesting remake``, run as an operator runs it."""

import csv
import json
from pathlib import Path

import pytest

import nesting
from nesting.cli import main
from nesting.output import write_plan
from tests.plans import hand_made_plan

QUICK = ["--effort", "1"]


@pytest.fixture
def out(tmp_path: Path) -> Path:
    """Write a small plan that was made by hand."""
    write_plan(hand_made_plan(), tmp_path / "out", ["json", "csv"])
    return tmp_path / "out"


def _contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_spoiled_units_are_planned_into_a_folder_of_their_own(
    out: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The units asked for stand on the new run sheet under their numbers; the old folder stays as it was."""
    before = _contents(out)
    again = tmp_path / "again"
    words = ["remake", str(out / "plan.json"), "--units", "bars: 3", "load 1, pocket 4", "--out", str(again)]
    assert main([*words, *QUICK]) == 0
    assert "1 load on 1 kept sheet, nothing to cut" in capsys.readouterr().out
    assert _contents(out) == before
    with (again / "run-sheet.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    found = [(row["order line"], row["unit"], row["sheet"], row["pocket"]) for row in rows]
    assert found == [("bars", "3", "A", "1"), ("frames", "2", "A", "4")]
    assert main(["check", str(again / "plan.json")]) == 0
    assert not [path.name for path in again.iterdir() if path.name.startswith("sheet-A-pockets.s")]
    page = (again / "run-sheet.html").read_text(encoding="utf-8")
    assert "0 sheets to cut" in page and "Kept sheets to fetch" in page and "Sheets to cut" not in page


def test_the_summary_names_the_kept_sheets(
    out: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Programs learn which sheets are to be fetched, and that none is cut."""
    words = [
        "remake",
        str(out / "plan.json"),
        "--units",
        "plain: all",
        "--out",
        str(tmp_path / "o"),
        "--json",
    ]
    assert main([*words, *QUICK, "--json", "--formats", "json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert (found["sheets"], found["kept_sheets"]) == (0, ["A"])


def test_wrong_names_and_the_old_folder_are_refused(
    out: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Wrong names are reported together, and nothing is ever written over the plan itself."""
    before, plan = _contents(out), str(out / "plan.json")
    assert main(["remake", plan, "--units", "bar: 1", "load 9: 1", "--out", str(tmp_path / "again")]) == 2
    said = capsys.readouterr().err
    assert "2 problems" in said and "did you mean 'bars'" in said and "there is no load 9" in said
    for folder in (out, out / "..", out / "sub" / ".."):
        assert main(["remake", plan, "--units", "bars: 1", "--out", str(folder)]) == 2
        assert "is to stay" in capsys.readouterr().err
    assert _contents(out) == before and [path.name for path in tmp_path.iterdir()] == ["out"]


def test_an_unsound_plan_is_refused(out: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Nothing is made from a plan that somebody spoiled, and everything wrong with it is named."""
    plan = json.loads((out / "plan.json").read_text(encoding="utf-8"))
    plan["loads"][0]["fillings"][0]["pocket"] = 99
    (out / "plan.json").write_text(json.dumps(plan), encoding="utf-8")
    words = ["remake", str(out / "plan.json"), "--units", "bars: 1", "--out", str(tmp_path / "again")]
    assert main([*words, *QUICK]) == 2
    said = capsys.readouterr().err
    assert "this plan is unsound" in said and "pocket 99" in said
    assert not (tmp_path / "again").exists()


def test_a_remade_plan_draws_itself(out: Path) -> None:
    """A notebook shows the kept sheet of a plan that cuts nothing."""
    again = nesting.remake(nesting.load_plan(out / "plan.json"), ["bars: 1"], effort=0.1)
    assert "Sheet A" in again._repr_svg_()
