"""Random jobs with everything that a job may say about loads: what they share, refocusing, costs."""

from dataclasses import replace

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from nesting.check import check_plan
from nesting.job.job import Costs, InLoad, Job, Refocus
from tests.planned import planned
from tests.strategies import jobs

ALIKE: tuple[tuple[InLoad, ...], ...] = ((), ("customer",), ("setting", "finish"))


@st.composite
def ruled_jobs(draw: st.DrawFn) -> Job:
    """Give a job heights, customers, finishes, and rules for its loads."""
    job = draw(jobs())
    heights = draw(st.lists(st.sampled_from([3.0, 3.4, 8.0, 20.0, 60.0]), min_size=3, max_size=3))
    refocus = draw(st.sampled_from([None, Refocus(2.0, 30.0)]))
    return replace(
        job,
        machine=replace(job.machine, refocus=refocus),
        blanks=tuple(
            replace(blank, height=height, finish=finish)
            for blank, height, finish in zip(job.blanks, heights, ("oiled", None, "raw"), strict=False)
        ),
        orders=tuple(
            replace(order, customer=customer)
            for order, customer in zip(job.orders, ("Lena", "Omar", None, "Lena"), strict=False)
        ),
        same_in_load=draw(st.sampled_from(ALIKE)),
        costs=draw(st.sampled_from([None, Costs(load=1.0), Costs(2.0, 0.5, 1.0, 0.3)])),
    )


@settings(deadline=None, max_examples=8, suppress_health_check=[HealthCheck.too_slow], derandomize=True)
@given(job=ruled_jobs())
def test_loads_keep_whatever_rules_a_job_has(job: Job) -> None:
    """Every plan is sound by the independent check, and claims no limit that it passes itself."""
    plan = planned(job)
    report = check_plan(plan)
    assert report.ok, str(report)
    assert plan.loads_bound <= len(plan.loads)
    assert plan.cost is None or 0 <= plan.cost.bound <= plan.cost.total
