"""The report on some 300 units: how large it is, and how soon a browser can use it."""

import shutil
import tempfile
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import nesting
from nesting import _plugins
from nesting.examples import write_example
from nesting.plan_values import Plan

TIMES_ORDERED = 4
"""The packaged example has 95 units; ordered so many times over it has more than 300."""


def run(_data: Path | None, seconds: float, seed: int) -> Iterator[str]:
    """Plan the large example several times over, write its pages, and open them."""
    with tempfile.TemporaryDirectory() as folder:
        plan = _plan(Path(folder) / "job", seconds, seed)
        began = time.perf_counter()
        pages = _plugins.load("plan_writers", "html").files(plan)
        written = time.perf_counter() - began
        yield f"{sum(len(load.fillings) for load in plan.loads)} units in {len(plan.loads)} loads"
        yield f"both pages written in {written:.2f} s"
        for name, content in pages.items():
            (Path(folder) / name).write_bytes(content)
            yield f"{name}: {len(content) / 1e6:.2f} MB, {_opened(Path(folder) / name)}"


def _plan(folder: Path, seconds: float, seed: int) -> Plan:
    write_example("regatta", folder)
    job = nesting.load_job(folder / "job.toml")
    orders = tuple(replace(order, quantity=TIMES_ORDERED * order.quantity) for order in job.orders)
    return nesting.make_plan(replace(job, orders=orders), seconds=seconds, seed=seed)


def _opened(page: Path) -> str:
    """Time a page from the request until its last box was ticked: the best and the worst of five."""
    program = shutil.which("chromium")
    if program is None:
        return "not opened: no chromium is installed"
    from playwright.sync_api import sync_playwright

    times = []
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=program, args=["--no-sandbox"])
        for _ in range(5):
            tab = browser.new_page()
            began = time.perf_counter()
            tab.goto(page.as_uri(), wait_until="load")
            tab.locator("input.tick").last.check()
            times.append(time.perf_counter() - began)
            tab.close()
        browser.close()
    return f"usable after {min(times):.2f} to {max(times):.2f} s"
