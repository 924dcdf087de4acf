"""Planning with a rack, killed at random moments: everything is as it was before or as it is to be."""

import os
import random
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import pytest

from nesting import check_plan, load_plan, write_plan
from nesting.output import LIST_NAME, recover
from nesting.rack import add_to_rack, retire_from_rack, whole_rack
from tests.killed import DAY, FORMATS, OUT, RACK, STAGES, work

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="processes are forked here")


def contents(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


class Server:
    """Has jobs worked on in processes that it kills."""

    def __init__(self, process: "subprocess.Popen[str]", seed: int) -> None:
        self._process, self._random = process, random.Random(seed)
        self._seconds = dict.fromkeys(STAGES, 0.05)

    def run(self, number: int, *, kill: bool) -> bool:
        """Work on a job, and kill it a while after a stage that is drawn; tell whether that was in time."""
        assert self._process.stdin is not None
        self._process.stdin.write(f"{number}\n")
        self._process.stdin.flush()
        child = int(self._until("child ").split()[1])
        stage = self._random.choice(STAGES[:-1]) if kill else "kept"
        began = time.perf_counter()
        for known in STAGES[: STAGES.index(stage) + 1]:
            self._until(known)
            if not kill:
                self._seconds[known], began = time.perf_counter() - began, time.perf_counter()
        if kill:
            after = STAGES[STAGES.index(stage) + 1]
            time.sleep(self._random.uniform(0, 1.2 * self._seconds[after]))
            with suppress(ProcessLookupError):
                os.kill(child, signal.SIGKILL)
        return self._until("killed", "ended") == "killed"

    def _until(self, *wanted: str) -> str:
        assert self._process.stdout is not None
        for line in self._process.stdout:
            if line.startswith(wanted):
                return line.strip()
        raise AssertionError(f"the worker ended before it said {wanted}")


@contextmanager
def serving(folder: Path, seed: int) -> Iterator[Server]:
    command = [sys.executable, "-m", "tests.killed", str(folder)]
    with subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=Path(__file__).parents[1]
    ) as process:
        server = Server(process, seed)
        server._until("ready")
        yield server
        assert process.stdin is not None
        process.stdin.close()


def killed_often(folder: Path, kills: int, seed: int = 1) -> int:
    """Kill so many runs; after each the folder and the rack must be old or new. Return how many were new.

    One that is left alone afterwards must clear away whatever the others left beside them.
    """
    rack, out, copy = folder / RACK, folder / OUT, folder / "copy.rack"
    add_to_rack(rack)
    with serving(folder, seed) as server:
        assert not server.run(0, kill=False)
        done, number, changed = 0, 0, 0
        while done < kills:
            number += 1
            if number % 10 == 0:
                in_use = [entry.kept.name for entry in whole_rack(rack) if entry.retired is None]
                retire_from_rack(rack, in_use[1:], today=DAY)  # so that sheets are cut again
            before, kept_before = contents(out), whole_rack(rack)
            shutil.copy(rack, copy)
            done += server.run(number, kill=True)
            recover(out)
            changed += assert_old_or_new(number, before, kept_before, folder)
        # SQLite lets a journal lie that was never begun in earnest, until the rack is changed again
        assert not server.run(number + 1, kill=False)
    names = {path.name for path in folder.iterdir()}
    assert names == {RACK, OUT, copy.name}
    return changed


def assert_old_or_new(number: int, before: dict[str, bytes], kept_before: object, folder: Path) -> bool:
    """Tell whether the run got as far as to change something; what it changed must be whole."""
    rack, out, copy = folder / RACK, folder / OUT, folder / "copy.rack"
    kept = whole_rack(rack)
    if contents(out) == before:
        assert kept == kept_before
        return False
    plan = load_plan(out / "plan.json")
    assert plan.job.title == f"job {number}"
    assert check_plan(plan).ok
    write_plan(plan, folder / "again", FORMATS)
    assert contents(out) == contents(folder / "again")
    assert LIST_NAME in contents(out)
    shutil.rmtree(folder / "again")
    if kept != kept_before:
        add_to_rack(copy, plan, cut_on=DAY)
        assert kept == whole_rack(copy)
    return True


def test_a_few_kills_break_nothing(tmp_path: Path) -> None:
    """Runs that are killed while they plan, write or keep leave the folder and the rack old or new."""
    killed_often(tmp_path, 4, seed=7)


@pytest.mark.slow
def test_two_hundred_kills_break_nothing(tmp_path: Path) -> None:
    """The same 200 times over, and often enough late for something to have changed."""
    assert killed_often(tmp_path, 200) > 20


def test_a_run_that_is_not_killed_keeps_what_it_cut(tmp_path: Path) -> None:
    """The work that is killed elsewhere does what it is to do when it is left alone."""
    add_to_rack(tmp_path / RACK)
    for number in (0, 1, 2):
        work(number, tmp_path)
    assert [entry.kept.used for entry in whole_rack(tmp_path / RACK)] == [2, 1]
