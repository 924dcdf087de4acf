"""The clock of the check against the times that plans state, from which it shares nothing."""

import random
from dataclasses import replace

import pytest

from nesting import make_plan
from nesting.check import check_plan
from nesting.check.clock import cut_seconds, travel_seconds
from nesting.examples import write_example
from nesting.geometry.contour import Contour
from nesting.job.job import Machine
from nesting.job.load import load_job
from nesting.motion.moves import move_times
from nesting.motion.time import contour_time
from nesting.plan_values import Plan
from nesting.routing.leads import with_lead


@pytest.mark.parametrize("seed", range(20))
def test_it_agrees_with_the_motion_model(seed: int) -> None:
    """Cuts with arcs, leads and limits of the axes take what the closed formulas say, within 0.3 %."""
    chance = random.Random(seed)
    points = [(chance.uniform(0, 60), chance.uniform(0, 60)) for _ in range(chance.randint(2, 9))]
    contour = Contour(tuple((x, y, chance.choice([0.0, chance.uniform(-1.5, 1.5)])) for x, y in points))
    machine = Machine(
        600, 400, cut_speed=chance.uniform(5, 100), pierce_time=0.5,
        axis_speeds=chance.choice([None, (50.0, 80.0)]),
        axis_accelerations=chance.choice([None, (900.0, 3000.0)]),
        velocity_jump=chance.choice([None, 10.0]),
    )  # fmt: skip
    start, lead = chance.randrange(len(points)), chance.choice([None, (30.0, 31.0)])
    stated = contour_time(with_lead(contour, start, lead), machine.cut_speed, machine.kinematics) + 0.5
    found = cut_seconds(contour, start, complex(*lead) if lead else None, machine)
    assert found == pytest.approx(stated, rel=3e-3)
    hop = chance.uniform(-300, 300), chance.uniform(-300, 300)
    moving = float(move_times(hop, machine.travel_speed, machine.kinematics))
    assert travel_seconds(complex(*hop), machine) == pytest.approx(moving, rel=1e-9)


@pytest.fixture(scope="module")
def plan(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    """Plan the first example on a machine whose axes differ."""
    folder = tmp_path_factory.mktemp("first")
    write_example("first", folder)
    job = load_job(folder / "job.toml")
    machine = replace(
        job.machine, axis_speeds=(300.0, 200.0), axis_accelerations=(2000.0, 900.0), lead_in=1.0
    )
    return make_plan(replace(job, machine=machine), effort=0.05, seed=1)


def test_a_sound_plan_passes(plan: Plan) -> None:
    """The times of a plan for a machine with limits of its axes are those of the check."""
    report = check_plan(plan)
    assert report.ok, str(report)
    assert plan.sheets[0].cut_path.times.cut > 0


@pytest.mark.parametrize("part", ["cut", "travel"])
def test_times_that_are_not_so_are_named(plan: Plan, part: str) -> None:
    """A plan that states less time to cut or to travel than it takes is refused, sums and all being right."""
    sheet = plan.sheets[0]
    path = sheet.cut_path
    less = getattr(path.times, part) * 0.1 + 0.1
    times = replace(path.times, **{part: getattr(path.times, part) - less})
    faster = replace(path, times=times, seconds=path.seconds - less, bound=0.0)
    report = check_plan(replace(plan, sheets=(replace(sheet, cut_path=faster), *plan.sheets[1:])))
    assert report.kinds == {"number"}
