"""``nesting check``: verify a plan that was written, with code that shares nothing with the planner."""

import argparse
from pathlib import Path

from nesting.check import check_plan
from nesting.cli._say import Commands, say, say_json, striking
from nesting.output import recover
from nesting.plan_file import load_plan


def add_to(commands: Commands) -> None:
    """Add this command to the parser."""
    parser = commands.add_parser("check", help="check a plan independently")
    parser.add_argument("plan", type=Path, metavar="PLAN", help="the plan.json of an output folder")
    parser.add_argument("--json", action="store_true", help="print what was found as JSON, for programs")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Print every violation; exit code 1 if there is one, or if units are unplaced."""
    recover(options.plan.parent)
    plan = load_plan(options.plan)
    report = check_plan(plan)
    if options.json:
        violations = [str(violation) for violation in report.violations]
        say_json({"sound": report.ok, "violations": violations, "unplaced": dict(plan.unplaced)})
    else:
        say(str(report))
        for name, count in plan.unplaced:
            say(f"not placed: {count} of order line {name}")
        if not report.ok:
            say(striking("do not cut or mark from this plan; make it anew: nesting plan JOB --out DIR"))
    return 0 if report.ok and not plan.unplaced else 1
