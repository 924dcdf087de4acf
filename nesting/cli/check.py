"""``nesting check``: verify a plan that was written, with code that shares nothing with the planner."""

import argparse
from pathlib import Path

from nesting.check import check_plan
from nesting.cli._say import Commands, say
from nesting.output import recover
from nesting.plan_file import load_plan


def add_to(commands: Commands) -> None:
    """Add this command to the parser."""
    parser = commands.add_parser("check", help="check a plan independently")
    parser.add_argument("plan", type=Path, metavar="PLAN", help="the plan.json of an output folder")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Print every violation; exit code 1 if there is one, or if units are unplaced."""
    recover(options.plan.parent)
    plan = load_plan(options.plan)
    report = check_plan(plan)
    say(str(report))
    for name, count in plan.unplaced:
        say(f"not placed: {count} of order line {name}")
    return 0 if report.ok and not plan.unplaced else 1
