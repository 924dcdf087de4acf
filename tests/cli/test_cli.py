"""The command line, run as an operator runs it."""

import json
import re
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

import jsonschema
import pytest

import nesting
from nesting.cli import main

QUICK = ["--effort", "1"]


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write out the small packaged example."""
    folder = tmp_path_factory.mktemp("job") / "first"
    assert main(["example", "first", str(folder)]) == 0
    return folder / "job.toml"


@pytest.fixture(scope="module")
def out(job: Path) -> Path:
    """Plan it into an output folder."""
    folder = job.parent.parent / "out"
    assert main(["plan", str(job), "--out", str(folder), *QUICK]) == 0
    return folder


def test_plan_writes_every_format_and_check_accepts_it(out: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A plan that was written can be read back and is found sound."""
    names = {path.name for path in out.iterdir()}
    assert {"plan.json", "report.html", "run-sheet.csv", "run-sheet.html", "sheet-A-pockets.svg"} <= names
    assert main(["check", str(out / "plan.json")]) == 0
    assert "sound" in capsys.readouterr().out


def test_summary_as_json(job: Path, out: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Programs get the figures as JSON and nothing else on standard output."""
    capsys.readouterr()
    assert main(["plan", str(job), "--out", str(tmp_path / "o"), "--json", "--formats", "json", *QUICK]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["unplaced"] == {} and found["violations"] == [] and "plan.json" in found["files"]


def test_same_effort_and_seed_give_the_same_plan(job: Path, out: Path, tmp_path: Path) -> None:
    """Two runs with one effort and seed write the same plan, byte for byte."""
    again = tmp_path / "again"
    assert main(["plan", str(job), "--out", str(again), "--formats", "json", *QUICK]) == 0
    assert (again / "plan.json").read_bytes() == (out / "plan.json").read_bytes()


def test_an_unsound_plan_is_refused(out: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A plan in which somebody moved a pocket ends in exit code 1 and says which pocket."""
    plan = json.loads((out / "plan.json").read_text(encoding="utf-8"))
    plan["sheets"][0]["pockets"][0]["x"] += 5.0
    broken = tmp_path / "plan.json"
    broken.write_text(json.dumps(plan), encoding="utf-8")
    assert main(["check", str(broken)]) == 1
    assert "pocket 1" in capsys.readouterr().out


def test_options_reach_their_writer(job: Path, tmp_path: Path) -> None:
    """A word of the command line changes what the writer writes."""
    words = ["--formats", "rs274", "--option", "rs274.beam_on=M4", "--option", 'rs274.footer=["G28"]']
    assert main(["plan", str(job), "--out", str(tmp_path / "o"), *words, *QUICK]) == 0
    program = (tmp_path / "o" / "sheet-A-pockets.ngc").read_text()
    assert "\nM4\n" in program and "\nM3\n" not in program and program.endswith("\nG28\nM5\nM2\n")


@pytest.mark.parametrize("of", ["job", "plan"])
def test_schema_is_a_schema(of: str, out: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The printed schema is a valid JSON Schema 2020-12, and the plan we wrote fits the plan's."""
    assert main(["schema", of]) == 0
    schema = json.loads(capsys.readouterr().out)
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    jsonschema.Draft202012Validator.check_schema(schema)
    if of == "plan":
        plan = json.loads((out / "plan.json").read_text(encoding="utf-8"))
        jsonschema.Draft202012Validator(schema).validate(plan)


def test_formats_lists_what_is_installed(capsys: pytest.CaptureFixture[str]) -> None:
    """Each writer, reader and engine of the distribution is listed."""
    assert main(["formats"]) == 0
    text = capsys.readouterr().out
    assert all(word in text for word in ("svg", "json", "csv", "html", "lattice", "rectangles", "polygons"))
    assert re.search(r"pictures read:.*\.png", text) and re.search(r"fonts read:.*\.ttf", text)


def test_formats_tells_programs_what_is_installed(capsys: pytest.CaptureFixture[str]) -> None:
    """The JSON names every writer with its options, and every suffix that is read."""
    assert main(["formats", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert {"svg", "json", "csv", "html"} <= set(told["written"])
    assert "beam_on" in told["written"]["rs274"]["options"]
    assert ".svg" in told["artwork"] and ".csv" in told["order_lists"]


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (["plan", "{job}", "--out", "{tmp}/o", "--formats", "svg,clay"], "clay"),
        (["plan", "{tmp}/none.toml", "--out", "{tmp}/o"], "none.toml"),
        (["plan", "{tmp}", "--out", "{tmp}/o"], "{tmp}"),
        (["plan", "{job}", "--out", "{tmp}/o", "--option", "rs274.beam_on=X1"], "output.rs274.beam_on"),
        (["plan", "{job}", "--out", "{tmp}/o", "--option", "beam_on"], "FORMAT.KEY=VALUE"),
        (["check", "{job}"], "job.toml"),
        (["check", "{tmp}/none.json"], "none.json"),
        (["example", "first", "{folder}"], "{folder}"),
    ],
)
def test_wrong_input_ends_in_2(
    words: list[str], expected: str, job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Wrong input gives exit code 2, one message that names the place, and nothing is written."""
    places = {"job": str(job), "tmp": str(tmp_path), "folder": str(job.parent)}
    assert main([word.format(**places) for word in words]) == 2
    error = capsys.readouterr().err
    assert expected.format(**places) in error and "Traceback" not in error
    assert not list(tmp_path.iterdir())


def test_usage_errors_end_in_2(job: Path) -> None:
    """An option out of range is a usage error."""
    with pytest.raises(SystemExit) as stop:
        main(["plan", str(job), "--out", "o", "--seconds", "nan"])
    assert stop.value.code == 2


def test_foreign_files_are_left_alone(job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A folder that holds somebody else's files is refused before any work is done."""
    (tmp_path / "taxes.txt").write_text("mine")
    assert main(["plan", str(job), "--out", str(tmp_path), *QUICK]) == 2
    assert [path.name for path in tmp_path.iterdir()] == ["taxes.txt"]


def test_no_bar_and_no_control_characters_in_a_pipe(job: Path, tmp_path: Path) -> None:
    """Run in a pipe, the command prints plain lines only."""
    words = [sys.executable, "-m", "nesting", "plan", str(job), "--out", str(tmp_path / "o"), *QUICK]
    result = subprocess.run(words, capture_output=True, text=True, check=True)
    assert result.stderr == "" and "\x1b" not in result.stdout and "\r" not in result.stdout


def test_progress_names_the_best_and_what_no_plan_goes_below(job: Path) -> None:
    """While a plan is sought the listener hears the sheets and loads found, each with its bound."""
    told: list[str] = []
    plan = nesting.make_plan(nesting.load_job(job), effort=1, progress=lambda p: told.append(p.best))
    found = [re.findall(r"(sheets|loads): (\d+) \(at least (\d+)\)", best) for best in told if best]
    assert {name: int(count) for (name, count, _), *_ in found}["sheets"] == len(plan.sheets)
    assert all(int(least) <= int(count) for (_, count, least), *_ in found)
    assert "loads" in {name for (name, _, _), *_ in found}


def _interrupt_at(stage: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Have Ctrl-C pressed when a stage of planning begins."""
    whole = nesting.make_plan

    def interrupted(job: nesting.Job, **options: Any) -> nesting.Plan:
        told: list[nesting.Progress] = []

        def listen(progress: nesting.Progress) -> None:
            if progress.stage.startswith(stage) and not told:
                told.append(progress)
                signal.raise_signal(signal.SIGINT)

        return whole(job, **options | {"progress": listen})

    monkeypatch.setattr("nesting.cli.plan.make_plan", interrupted)


def test_ctrl_c_keeps_the_best_plan_and_says_so(
    job: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A search interrupted once units have places writes that plan, which is sound, and says so."""
    _interrupt_at("ordering", monkeypatch)
    folder = tmp_path / "o"
    assert main(["plan", str(job), "--out", str(folder), "--formats", "json", *QUICK]) == 0
    said = capsys.readouterr()
    assert "best plan so far" in said.err and "stopped early" in said.out
    assert main(["check", str(folder / "plan.json")]) == 0


def test_ctrl_c_before_anything_was_found_writes_nothing(
    job: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Interrupted before a unit has a place, the command ends in 130 and leaves the folder as it was."""
    _interrupt_at("packing", monkeypatch)
    assert main(["plan", str(job), "--out", str(tmp_path / "o"), *QUICK]) == 130
    assert not (tmp_path / "o").exists()


def test_programs_get_refusals_and_findings_as_json(
    out: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """With --json, a refusal and the findings of a check are JSON on standard output."""
    assert main(["plan", str(tmp_path / "none.toml"), "--out", str(tmp_path / "o"), "--json"]) == 2
    assert "none.toml" in json.loads(capsys.readouterr().out)["problems"][0]
    assert main(["check", str(out / "plan.json"), "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == {"sound": True, "violations": [], "unplaced": {}}
