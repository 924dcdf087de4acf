"""Whatever is asked, what comes back is sound: random problems and jobs against the independent check."""

import pytest
from hypothesis import HealthCheck, event, given, settings

from nesting import check_layout, check_plan, make_plan, pack
from nesting.errors import InputError
from nesting.job.job import Job
from nesting.packing.problem import Problem
from nesting.plan_values import Plan
from tests.faults import FAULTS
from tests.strategies import discs, jobs, problems, rectangles

_EFFORT = 0.05
_FEW = settings(
    deadline=None, max_examples=12, suppress_health_check=[HealthCheck.too_slow], derandomize=True
)
_MANY = settings(_FEW, max_examples=150, derandomize=False)


def _packed_soundly(problem: Problem, engine: str) -> None:
    try:
        layout = pack(problem.items, problem.sheets, effort=_EFFORT, seed=1, engine=engine)
    except InputError as refusal:
        event(str(refusal)[:60])
        return
    report = check_layout(layout)
    assert report.ok, str(report)


def _planned_soundly(job: Job) -> Plan:
    plan = make_plan(job, effort=_EFFORT, seed=1)
    report = check_plan(plan)
    assert report.ok, str(report)
    return plan


@_FEW
@given(problem=problems())
def test_polygons_pack_any_outline_soundly(problem: Problem) -> None:
    """Whatever outlines there are, together they lie soundly."""
    _packed_soundly(problem, "polygons")


@_FEW
@given(problem=problems(rectangles()))
def test_rectangles_are_packed_soundly(problem: Problem) -> None:
    """Rectangles of several sizes are placed soundly."""
    _packed_soundly(problem, "rectangles")


@_FEW
@given(problem=problems(rectangles() | discs(), most=1))
def test_equal_blanks_are_packed_soundly(problem: Problem) -> None:
    """Blanks of one kind are placed soundly by the engine for equal ones."""
    _packed_soundly(problem, "lattice")


@_FEW
@given(job=jobs())
def test_a_plan_is_sound_whatever_the_job(job: Job) -> None:
    """Every plan passes the check, with every unit loaded or counted as unplaced."""
    _planned_soundly(job)


@settings(_FEW, max_examples=3)
@given(job=jobs())
def test_faults_in_real_plans_are_named(job: Job) -> None:
    """What is found in a plan made by hand is found in any plan."""
    plan = _planned_soundly(job)
    if not plan.sheets:
        return
    for name, (kind, make) in FAULTS.items():
        faulty = make(plan)
        if faulty is not None:
            report = check_plan(faulty)
            assert kind in report.kinds, f"{name}: {report}"


@pytest.mark.slow
@_MANY
@given(problem=problems())
def test_many_random_problems_are_packed_soundly(problem: Problem) -> None:
    """The same for many problems, new ones at each run, by whichever engines take them."""
    for engine in ("lattice", "rectangles", "polygons"):
        _packed_soundly(problem, engine)


@pytest.mark.slow
@_MANY
@given(job=jobs())
def test_many_random_jobs_are_planned_soundly(job: Job) -> None:
    """The same for many jobs, new ones at each run."""
    _planned_soundly(job)
