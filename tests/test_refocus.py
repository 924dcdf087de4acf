"""Loads in which the machine refocuses: from the job to the programs."""

from dataclasses import replace
from itertools import pairwise

import pytest

from nesting.check import check_plan
from nesting.job.job import Job, Refocus
from nesting.plan import make_plan
from nesting.plan_file import plan_from_json, plan_to_json
from nesting.plan_values import Plan
from nesting_adapters.rs274 import Rs274Writer
from tests.adapters.rs274_reader import Reader
from tests.plans import hand_made_job

SECONDS = 2.5


def two_heights(refocus: Refocus | None) -> Job:
    """Coasters that lie low and fobs that lie high, on one sheet."""
    job = hand_made_job()
    coaster, fob = job.blanks
    machine = replace(job.machine, refocus=refocus)
    return replace(job, machine=machine, blanks=(coaster, replace(fob, height=20.0)))


@pytest.fixture(scope="module")
def refocused() -> Plan:
    """Plan two kinds that share loads."""
    return make_plan(two_heights(Refocus(SECONDS, 16.0)), effort=0.05)


def test_loads_go_from_the_lowest_height_up(refocused: Plan) -> None:
    """Coasters are marked before fobs in one load, and refocusing between them takes its time."""
    alone = make_plan(two_heights(None), effort=0.05)
    assert len(refocused.loads) < len(alone.loads)
    load = refocused.loads[0]
    assert load.focus_heights == (4.0, 20.0)
    height = {filling.pocket: load.focus_of(filling) for filling in load.fillings}
    heights = [height[step.pocket] for step in load.mark_path.steps]
    assert heights == sorted(heights) and len(set(heights)) == 2
    waits = [
        step.wait for a, step in pairwise(load.mark_path.steps) if height[a.pocket] != height[step.pocket]
    ]
    assert waits == [SECONDS] and load.mark_path.times.wait == SECONDS
    assert load.mark_path.bound >= SECONDS


def test_the_check_accepts_it_and_the_file_keeps_it(refocused: Plan) -> None:
    """Focus heights are part of the plan, and sound."""
    report = check_plan(refocused)
    assert report.ok, str(report)
    assert plan_from_json(plan_to_json(refocused)) == refocused
    assert any("clears the highest" in warning for warning in refocused.warnings)


def test_the_check_finds_what_is_wrong_with_it(refocused: Plan) -> None:
    """Without the time, beyond the range, downwards or out of focus, refocusing is refused."""
    load, job = refocused.loads[0], refocused.job

    def with_load(**changes: object) -> Plan:
        return replace(refocused, loads=(replace(load, **changes), *refocused.loads[1:]))  # type: ignore[arg-type]

    def with_machine(refocus: Refocus | None) -> Plan:
        return replace(refocused, job=replace(job, machine=replace(job.machine, refocus=refocus)))

    path = load.mark_path
    hurried = replace(
        path,
        steps=tuple(replace(step, wait=0.0) for step in path.steps),
        seconds=path.seconds - SECONDS,
        times=replace(path.times, wait=0.0),
        bound=0.0,
    )
    low = tuple(replace(filling, focus_height=None) for filling in load.fillings)
    assert check_plan(with_machine(None)).kinds >= {"height"}
    assert check_plan(with_machine(Refocus(SECONDS, 15.0))).kinds == {"height"}
    assert check_plan(with_load(mark_path=hurried)).kinds == {"path"}
    assert check_plan(with_load(mark_path=replace(path, steps=path.steps[::-1]))).kinds >= {"path"}
    assert check_plan(with_load(fillings=low)).kinds == {"height"}


def test_programs_pause_or_move_the_head(refocused: Plan) -> None:
    """A program stops for the operator to refocus or, if asked, moves in Z before anything else."""
    pausing, moving = (
        Rs274Writer.model_validate(options).files(refocused)["load-01-marks.ngc"].decode()
        for options in ({}, {"focus": "Z", "work_z": -4.0})
    )
    assert pausing.count("\nM0\n") == 1 and "Z" not in pausing.replace("G94", "").split("G80", 1)[1]
    for height in (4, 20):
        assert f"(focus {height} mm above the bed)\nG0 Z{height - 4}\n" in moving
    assert len(Reader(pausing).strokes) == moving.count("\nM3\n") > 2
