"""Commands that make a plan from another one, killed at any moment."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from nesting.cli import main
from nesting.output import LIST_NAME, recover, write_plan
from tests.plans import hand_made_plan

KILLED = """
import os, sys
from nesting.cli import main

STEPS = ("os.rename", "os.mkdir", "os.rmdir", "os.remove", "open", "shutil.rmtree", "ctypes.get_errno")
steps, root, *words = sys.argv[1:]

def run(step):
    count, folder = 0, f"{root}/{step}"

    def dying(event, arguments):
        nonlocal count
        here = event == "ctypes.get_errno" or (event in STEPS and folder in str(arguments[0]))
        count += here
        if here and count == step:
            os.kill(os.getpid(), 9)

    sys.addaudithook(dying)
    sys.stdout = open(os.devnull, "w")
    os._exit(main([word.replace(root, folder) for word in words]))

for step in range(1, int(steps)):
    child = os.fork()
    if child == 0:
        run(step)
    print(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]), flush=True)
"""

JOB = """
title = "more"
[machine]
bed = { width = 600, height = 400 }
kerf = { plywood = 0.2 }
[[settings]]
name = "fine"
interval = 0.5
[[stock]]
name = "birch"
outline = { shape = "rectangle", width = 200, height = 150 }
thickness = 3
material = "plywood"
[[blanks]]
name = "fob"
footprint = { shape = "rectangle", width = 30, height = 20 }
height = 4.2
gap = 1
clearance = 0.2
mark_area = { shape = "rectangle", width = 26, height = 16, x = 2, y = 2 }
setting = "fine"
[[orders]]
line = "new"
blank = "fob"
quantity = 1
"""

REMAKE = ["remake", "PLAN", "--units", "bars: 1-3"]
EXTEND = ["plan", "JOB", "--extend", "PLAN"]
STEPS = 32


def _contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


@pytest.mark.skipif(os.name != "posix", reason="needs fork and kill -9")
@pytest.mark.parametrize(
    "words", [REMAKE, pytest.param(EXTEND, marks=pytest.mark.slow)], ids=["remake", "extend"]
)
def test_killed_at_any_step(tmp_path: Path, words: list[str]) -> None:
    """The plan it is made from stays as it was, and the output folder is the old one or the new one."""
    root = tmp_path / "root"
    named = {"PLAN": f"{root}/plan/plan.json", "JOB": f"{root}/job.toml"}
    command = [named.get(word, word) for word in words]
    command += ["--out", f"{root}/out", "--formats", "json,csv", "--effort", "0.1"]
    write_plan(hand_made_plan(), root / "plan", ["json", "csv"])
    (root / "job.toml").write_text(JOB, encoding="utf-8")
    assert main(command) == 0
    new, source = _contents(root / "out"), _contents(root / "plan")
    old = {"plan.json": b"of an earlier run", LIST_NAME: new[LIST_NAME]}
    for step in range(1, STEPS):
        shutil.copytree(root / "plan", root / str(step) / "plan")
        shutil.copy(root / "job.toml", root / str(step))
        (root / str(step) / "out").mkdir()
        for name, content in old.items():
            (root / str(step) / "out" / name).write_bytes(content)
    script = [sys.executable, "-c", KILLED, str(STEPS), str(root), *command]
    told = subprocess.run(script, check=True, capture_output=True, text=True).stdout.split()
    seen = set()
    for step in range(1, STEPS):
        folder = root / str(step)
        recover(folder / "out")
        found = _contents(folder / "out")
        assert found in (old, new)
        assert _contents(folder / "plan") == source
        assert sorted(path.name for path in folder.iterdir()) == ["job.toml", "out", "plan"]
        seen.add((told[step - 1], found == old))
    assert seen == {("-9", True), ("-9", False), ("0", False)}
