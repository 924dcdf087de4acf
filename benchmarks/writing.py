"""Suite ``writing``: seconds and bytes of each format for the regatta example with 2,000 units."""

import tempfile
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from nesting import load_job, make_plan, write_plan
from nesting._plugins import names
from nesting.examples import write_example
from nesting.job.job import Job
from nesting.plan_values import Plan
from nesting.plug_in_options import lacking
from nesting.writers import chosen_writers

UNITS = 2000


def run(_: Path | None, seconds: float, seed: int) -> Iterator[str]:
    """Plan for `seconds`, then time each writer, and all of them together with the disk."""
    plan = large_plan(UNITS, seconds, seed)
    units = sum(len(load.fillings) for load in plan.loads)
    yield f"{units} units in {len(plan.loads)} loads on {len(plan.sheets)} sheets"
    yield f"{'format':10} {'files':>5} {'MB':>7} {'seconds':>8}"
    for name in names("plan_writers"):
        writer = chosen_writers(plan.job, None).get(name)
        if writer is None or lacking(writer):
            yield f"{name:10} not installed"
            continue
        begin = time.perf_counter()
        files = writer.files(plan)
        spent = time.perf_counter() - begin
        size = sum(map(len, files.values())) / 1e6
        yield f"{name:10} {len(files):5} {size:7.2f} {spent:8.2f}"
    with tempfile.TemporaryDirectory() as folder:
        begin = time.perf_counter()
        write_plan(plan, Path(folder) / "out")
        yield f"all formats, written to disk: {time.perf_counter() - begin:.2f} s"


def large_plan(units: int, seconds: float, seed: int) -> Plan:
    """Plan the regatta example with its order lines multiplied to so many units."""
    with tempfile.TemporaryDirectory() as folder:
        write_example("regatta", Path(folder))
        job = load_job(Path(folder) / "job.toml")
    return make_plan(_multiplied(job, units), seconds=seconds, seed=seed)


def _multiplied(job: Job, units: int) -> Job:
    total = sum(order.quantity for order in job.orders)
    orders = [replace(order, quantity=order.quantity * units // total) for order in job.orders]
    rest = units - sum(order.quantity for order in orders)
    orders[0] = replace(orders[0], quantity=orders[0].quantity + rest)
    return replace(job, orders=tuple(orders))
