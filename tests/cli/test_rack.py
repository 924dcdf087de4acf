"""The rack on the command line, from keeping sheets to retiring them."""

import json
import shutil
from pathlib import Path

import pytest

from nesting.cli import main

QUICK = ["--effort", "0.3", "--formats", "json,csv,svg"]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Plan the small example, and keep what it cuts."""
    folder = tmp_path_factory.mktemp("rack") / "first"
    assert main(["example", "first", str(folder)]) == 0
    assert main(["plan", str(folder / "job.toml"), "--out", str(folder / "out"), *QUICK]) == 0
    assert main(["rack", "add", str(folder / "shop.rack"), str(folder / "out" / "plan.json")]) == 0
    return folder


@pytest.fixture
def rack(folder: Path, tmp_path: Path) -> Path:
    """Copy the rack, for it to be changed."""
    return Path(shutil.copy(folder / "shop.rack", tmp_path / "copy.rack"))


def test_a_plan_takes_sheets_from_the_rack_of_the_option(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Nothing is cut, no file for cuts is written, and what is written tells which sheet to take."""
    words = ["--out", str(tmp_path / "out"), "--rack", str(folder / "shop.rack"), *QUICK]
    capsys.readouterr()
    assert main(["plan", str(folder / "job.toml"), *words]) == 0
    assert "kept sheet R1" in capsys.readouterr().out
    assert not list((tmp_path / "out").glob("sheet-*-pockets.svg"))
    assert "R1,R1,birch plywood" in (tmp_path / "out" / "sheets.csv").read_text()
    assert main(["check", str(tmp_path / "out" / "plan.json")]) == 0


def test_a_job_names_its_rack(folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The rack of the job document is used, and the summary for programs names the sheets."""
    job = folder / "again.toml"
    job.write_text(
        'rack = "shop.rack"\n' + (folder / "job.toml").read_text(encoding="utf-8"), encoding="utf-8"
    )
    capsys.readouterr()
    assert main(["plan", str(job), "--out", str(tmp_path / "out"), "--json", *QUICK]) == 0
    found = json.loads(capsys.readouterr().out)
    assert (found["sheets"], found["kept_sheets"], found["sheets_bound"]) == (0, ["R1"], 0)


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ('rack = "gone.rack"', "rack: found 'gone.rack'; there is no such file"),
        ('rack = "../shop.rack"', "allowed: a path without '..'"),
        ('rack = "job.toml"', "rack: found a file ending in '.toml'; allowed: .rack, .sqlite"),
        ('rack = "empty.rack"', "this is no rack"),
        ("rack = 7", "rack: found 7"),
    ],
)
def test_a_rack_that_cannot_be_read_is_named_with_the_rest(
    folder: Path, tmp_path: Path, written: str, said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """What is wrong with the rack stands beside what is wrong elsewhere in the job."""
    (folder / "empty.rack").touch()
    job = folder / "wrong.toml"
    text = (folder / "job.toml").read_text(encoding="utf-8").replace("quantity = ", "quantity = -")
    job.write_text(f"{written}\n{text}", encoding="utf-8")
    assert main(["plan", str(job), "--out", str(tmp_path / "out")]) == 2
    found = capsys.readouterr().err
    assert said in found
    assert "quantity" in found


def test_stock_is_not_called_like_a_kept_sheet(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Two things of one name could not be told apart in a plan."""
    job = folder / "named.toml"
    text = (folder / "job.toml").read_text(encoding="utf-8").replace('"small sheet"', '"R1"')
    job.write_text(text, encoding="utf-8")
    assert main(["plan", str(job), "--out", str(tmp_path / "o"), "--rack", str(folder / "shop.rack")]) == 2
    assert "stock[0].name: found 'R1', which is what a sheet on the rack is called" in capsys.readouterr().err


def test_sheets_are_listed_and_retired(rack: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What is retired leaves the list, but not its long form."""
    capsys.readouterr()
    assert main(["rack", "list", str(rack), "--json"]) == 0
    (found,) = json.loads(capsys.readouterr().out)["sheets"]
    assert (found["name"], found["thickness_mm"], found["material"]) == ("R1", 3, "birch plywood")
    assert found["loads"] > 0
    assert found["kerf_mm"] == 0.2
    assert set(found["clearances_mm"]) == set(found["pockets"])
    assert main(["rack", "list", str(rack)]) == 0
    assert "R1: " in capsys.readouterr().out
    assert main(["rack", "retire", str(rack), "R1"]) == 0
    assert main(["rack", "list", str(rack)]) == 0
    assert "no sheets are on this rack" in capsys.readouterr().out
    assert main(["rack", "list", str(rack), "--all"]) == 0
    assert "RETIRED" in capsys.readouterr().out


def test_what_was_added_is_told(folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """An empty rack is made on request; a plan is added once, with the kerf that was measured."""
    rack, plan = str(tmp_path / "new.rack"), str(folder / "out" / "plan.json")
    capsys.readouterr()
    assert main(["rack", "add", rack]) == 0
    assert "sheets on it: 0" in capsys.readouterr().out
    words = [rack, plan, "--kerf", "0.24", "--cut-on", "2026-05-30"]
    assert main(["rack", "add", *words, "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == {"added": {"A": "R1"}, "loads": {}}
    assert main(["rack", "list", rack]) == 0
    listed = capsys.readouterr().out
    assert "kerf 0.24 mm" in listed
    assert "cut on 2026-05-30" in listed
    assert main(["rack", "add", *words]) == 2
    assert "added on 2026-05-30 already" in capsys.readouterr().err
    assert main(["rack", "add", *words, "--again"]) == 0
    assert "sheet A is kept as R2" in capsys.readouterr().out


def test_errors_end_in_exit_code_2(rack: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Wrong names, missing files and wrong words are refused, for programs as JSON."""
    capsys.readouterr()
    assert main(["rack", "retire", str(rack), "R5", "--json"]) == 2
    assert "found no sheet 'R5'; in use: R1" in json.loads(capsys.readouterr().out)["problems"][0]
    assert main(["rack", "list", str(rack.with_name("none.rack"))]) == 2
    assert "there is no such file" in capsys.readouterr().err
    with pytest.raises(SystemExit):
        main(["rack", "add", str(rack), "plan.json", "--cut-on", "yesterday"])
    assert "allowed: a date as 2026-05-30" in capsys.readouterr().err
