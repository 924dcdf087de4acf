"""``nesting plan``: a job in, a folder of files out."""

import argparse
import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import FrameType

from nesting.check import Report, check_plan
from nesting.cli._bar import progress_bar
from nesting.cli._options import written_options
from nesting.cli._say import Commands, positive, say, say_json, striking
from nesting.job.load import load_job
from nesting.output import check_output, write_plan
from nesting.plan import make_plan
from nesting.plan_values import Path as PlannedPath
from nesting.plan_values import Plan
from nesting.writers import chosen_formats, chosen_writers

DEFAULT_SECONDS = 10.0


def add_to(commands: Commands) -> None:
    """Add this command to the parser."""
    parser = commands.add_parser("plan", help="plan a job and write its files")
    parser.add_argument("job", type=Path, metavar="JOB", help="job document, .toml or .json")
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
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Plan, check, write, and sum up; exit code 1 if something is unplaced or unsound."""
    wanted = None if options.formats is None else [name.strip() for name in options.formats.split(",")]
    formats = None if wanted is None else chosen_formats(wanted)
    given = written_options(options.option)
    job = load_job(options.job)
    chosen_writers(job, formats, given)
    check_output(options.out)
    seconds = None if options.effort else options.seconds or DEFAULT_SECONDS
    with _interruptible() as cancelled, progress_bar() as listener:
        plan = make_plan(
            job,
            seconds=seconds,
            effort=options.effort,
            seed=options.seed,
            progress=listener,
            cancelled=cancelled,
        )
    if cancelled() and not plan.loads:
        raise KeyboardInterrupt  # stopped before anything was found: what an earlier run wrote stays
    report = check_plan(plan)
    written = write_plan(plan, options.out, formats=formats, options=given)
    if options.json:
        say_json(
            {
                **summary(plan, report),
                "stopped": cancelled(),
                "folder": str(options.out),
                "files": [str(path) for path in written],
            }
        )
    else:
        _tell(plan, report, options.out, len(written))
        if cancelled():
            say("  stopped early: this is the best plan found until then; give it more time for a better one")
    return 0 if report.ok and not plan.unplaced else 1


def summary(plan: Plan, report: Report) -> dict[str, object]:
    """Give the figures that a program wants."""
    return {
        "title": plan.job.title,
        "units": sum(len(load.fillings) for load in plan.loads),
        "unplaced": dict(plan.unplaced),
        "sheets": len(plan.sheets),
        "sheets_bound": plan.bound,
        "proven": plan.proven,
        "loads": len(plan.loads),
        "travel_mm": round(_travel(plan), 1),
        "warnings": list(plan.warnings),
        "violations": [str(violation) for violation in report.violations],
    }


def _tell(plan: Plan, report: Report, folder: Path, files: int) -> None:
    units = sum(len(load.fillings) for load in plan.loads)
    loads = "1 load" if len(plan.loads) == 1 else f"{len(plan.loads)} loads"
    sheets = "1 sheet" if len(plan.sheets) == 1 else f"{len(plan.sheets)} sheets"
    bound = "proven the fewest" if plan.proven else f"at least {plan.bound} needed"
    say(f"{plan.job.title}: {units} units in {loads} on {sheets} to cut ({bound})")
    for sheet in plan.sheets:
        say(f"  sheet {sheet.name}: {len(sheet.pockets)} pockets in {sheet.stock}, {sheet.fill:.0%} filled")
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
