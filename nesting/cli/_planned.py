"""What commands that make a plan have in common: their options, and what they do with the plan."""

import argparse
import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from types import FrameType
from typing import Protocol

from nesting.check import Report, check_plan
from nesting.cli._bar import progress_bar
from nesting.cli._options import written_options
from nesting.cli._say import positive, say, say_json, striking
from nesting.errors import InputError, Problem
from nesting.job.job import Job, OptionValue
from nesting.output import check_output, keep_apart, recover, write_plan
from nesting.plan_file import load_plan
from nesting.plan_values import Cost, CutSheet, Plan
from nesting.plan_values import Path as PlannedPath
from nesting.progress import Listener, Progress
from nesting.words import counted, listed, pockets_in_words
from nesting.writers import chosen_formats, chosen_writers

DEFAULT_SECONDS = 10.0


class Planner(Protocol):
    """Makes a plan within limits."""

    def __call__(
        self,
        *,
        seconds: float | None,
        effort: float | None,
        seed: int,
        progress: Listener,
        cancelled: "_Flag",
    ) -> Plan: ...


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the options of the search and of the output."""
    parser.add_argument("--out", type=Path, required=True, metavar="DIR", help="folder for the files")
    limit = parser.add_mutually_exclusive_group()
    limit.add_argument(
        "--seconds", type=positive, default=None, help=f"time to spend ({DEFAULT_SECONDS:g} if not given)"
    )
    limit.add_argument(
        "--effort", type=positive, default=None, help="work to spend: same result on any machine"
    )
    parser.add_argument("--seed", type=int, default=1, help="another seed, another search (1 if not given)")
    parser.add_argument("--formats", metavar="A,B", help="only these formats; see 'nesting formats'")
    parser.add_argument(
        "--option",
        action="append",
        default=[],
        metavar="FORMAT.KEY=VALUE",
        help="an option of a format, before those of the job; see 'nesting formats'; may be given repeatedly",
    )
    parser.add_argument("--json", action="store_true", help="print the summary as JSON, for programs")


@dataclass(frozen=True)
class Writing:
    """Where to and in which formats a plan is written."""

    folder: Path
    formats: list[str] | None
    given: dict[str, dict[str, OptionValue]]

    @classmethod
    def of(cls, options: argparse.Namespace) -> "Writing":
        """Read the options of the output."""
        wanted = None if options.formats is None else [name.strip() for name in options.formats.split(",")]
        formats = None if wanted is None else chosen_formats(wanted)
        return cls(options.out, formats, written_options(options.option))

    def check(self, job: Job) -> None:
        """Make sure that a plan of a job can be written, before it is made."""
        chosen_writers(job, self.formats, self.given)
        check_output(self.folder)


def open_plan(path: Path, writing: Writing) -> Plan:
    """Read the plan that another one is made from: a sound one, which is not to be written over.

    Raises
    ------
    InputError
        With every violation of an unsound plan, or as `load_plan`.
    """
    keep_apart(writing.folder, path)
    recover(path.parent)
    plan = load_plan(path)
    report = check_plan(plan)
    if not report.ok:
        message = "this plan is unsound, so nothing is made from it"
        problems = [
            Problem(str(path), found.place, f"{found.kind}: {found.message}") for found in report.violations
        ]
        raise InputError([Problem(str(path), "", message), *problems])
    return plan


def plan_and_write(options: argparse.Namespace, writing: Writing, planner: Planner) -> int:
    """Plan, check, write, and sum up; exit code 1 if something is unplaced or unsound."""
    seconds = None if options.effort else options.seconds or DEFAULT_SECONDS
    with progress_bar() as listener:
        with _interruptible() as cancelled:
            plan = planner(
                seconds=seconds,
                effort=options.effort,
                seed=options.seed,
                progress=listener,
                cancelled=cancelled,
            )
        if cancelled() and not plan.loads:
            raise KeyboardInterrupt  # stopped before anything was found: what an earlier run wrote stays
        listener(Progress("checking the plan", 1.0))
        report = check_plan(plan)
        listener(Progress("writing the files", 1.0))
        written = write_plan(plan, writing.folder, formats=writing.formats, options=writing.given)
    if options.json:
        say_json(
            {
                **_summary(plan, report),
                "stopped": cancelled(),
                "folder": str(writing.folder),
                "files": [str(path) for path in written],
            }
        )
    else:
        _tell(plan, report, writing.folder, len(written))
        if cancelled():
            say("  stopped early: this is the best plan found until then; give it more time for a better one")
    return 0 if report.ok and not plan.unplaced else 1


def _summary(plan: Plan, report: Report) -> dict[str, object]:
    """Give the figures that a program wants."""
    return {
        "title": plan.job.title,
        "units": sum(len(load.fillings) for load in plan.loads),
        "unplaced": dict(plan.unplaced),
        "sheets": len(plan.sheets),
        "kept_sheets": [sheet.name for sheet in plan.kept],
        "sheets_bound": plan.bound,
        "proven": plan.proven,
        "loads": len(plan.loads),
        "loads_bound": plan.loads_bound,
        "loads_proven": plan.loads_proven,
        "cost": None if plan.cost is None else _cost(plan.cost),
        "travel_mm": round(_travel(plan), 1),
        "warnings": list(plan.warnings),
        "violations": [str(violation) for violation in report.violations],
    }


def _cost(cost: Cost) -> dict[str, object]:
    return {"total": round(cost.total, 2), "bound": round(cost.bound, 2), "proven": cost.proven}


def _limits(plan: Plan) -> Iterator[str]:
    """Say how few loads and how little cost any plan takes."""
    whatever = "on as few sheets" if plan.job.costs is None else "whatever is cut"
    if plan.loads_proven and plan.loads:
        yield f"loads: proven the fewest {whatever}"
    elif plan.loads_bound:
        yield f"loads: at least {plan.loads_bound} needed {whatever}"
    if plan.cost is not None:
        least = "proven the least" if plan.cost.proven else f"at least {plan.cost.bound:.2f} in any plan"
        yield f"cost: {plan.cost.total:.2f} ({least})"


def _tell(plan: Plan, report: Report, folder: Path, files: int) -> None:
    units = counted(sum(len(load.fillings) for load in plan.loads), "unit")
    bound = "proven the fewest" if plan.proven else f"at least {plan.bound} needed"
    cut = f"on {counted(len(plan.sheets), 'sheet')} to cut ({bound})"
    if plan.kept:
        kept = f"on {counted(len(plan.kept), 'kept sheet')}"
        cut = f"{kept} and {cut}" if plan.sheets else f"{kept}, nothing to cut"
    say(f"{plan.job.title}: {units} in {counted(len(plan.loads), 'load')} {cut}")
    for line in _limits(plan):
        say(f"  {line}")
    for sheet in plan.kept:
        say(f"  kept sheet {sheet.name}: {_where(plan, sheet)}")
    for sheet in plan.sheets:
        pockets = counted(len(sheet.pockets), "pocket")
        say(f"  sheet {sheet.name}: {pockets} in {sheet.stock}, {sheet.fill:.0%} filled")
    numbered = sum(p.numbered_travel for p in _paths(plan))
    say(f"  travel {_travel(plan) / 1000:.2f} m, {numbered / 1000:.2f} m in numbered order")
    if plan.plain_seconds:
        saved = 1 - plan.machine_seconds / plan.plain_seconds
        time = f"{plan.machine_seconds / 60:.1f} min of machine time (estimate)"
        say(f"  {time}, {saved:.0%} less than in numbered order with every unit by itself")
    for name, count in plan.unplaced:
        say(striking(f"  NOT PLACED: {count} of order line {name}"))
    if plan.unplaced:
        say("    next: add stock or larger sheets to the job, or allow smaller gaps, and plan again")
    for warning in plan.warnings:
        say(f"  warning: {warning}")
    say("  check: sound" if report.ok else striking("  check: UNSOUND; do not cut from these files"))
    for violation in report.violations:
        say(f"    {violation}")
    report_page = folder / "report.html"
    hint = f"; open {report_page} first" if report_page.exists() else ""
    say(f"  {files} files in {folder}{hint}")


def _where(plan: Plan, sheet: CutSheet) -> str:
    """Say which of a sheet's pockets are filled in which load."""
    pockets: dict[str, list[int]] = {}
    for load in plan.loads:
        if load.sheet == sheet.name:
            filled = pockets_in_words(filling.pocket for filling in load.fillings)
            pockets.setdefault(filled, []).append(load.number)
    return "; ".join(
        f"{'load' if len(loads) == 1 else 'loads'} {listed(loads)} in {filled}"
        for filled, loads in pockets.items()
    )


def _paths(plan: Plan) -> list[PlannedPath]:
    return [s.cut_path for s in plan.sheets] + [load.mark_path for load in plan.loads]


def _travel(plan: Plan) -> float:
    return float(sum(path.travel for path in _paths(plan)))


@contextmanager
def _interruptible() -> Iterator["_Flag"]:
    """Turn the first Ctrl-C into a request to stop with the best plan so far; a second one ends at once."""
    flag = _Flag()
    before = signal.signal(signal.SIGINT, flag.raise_it)
    try:
        yield flag
    finally:
        signal.signal(signal.SIGINT, before)


class _Flag:
    raised = False

    def __call__(self) -> bool:
        return self.raised

    def raise_it(self, _signal: int, _frame: FrameType | None) -> None:
        if self.raised:
            raise KeyboardInterrupt
        self.raised = True
        print("stopping with the best plan so far; press Ctrl-C again to drop it", file=sys.stderr)  # noqa: T201
