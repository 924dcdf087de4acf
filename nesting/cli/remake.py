"""``nesting remake``: loads for spoiled units on the sheets that are there."""

import argparse
from functools import partial
from pathlib import Path

from nesting.cli._planned import Writing, add_options, open_plan, plan_and_write
from nesting.cli._say import Commands
from nesting.remaking import remake
from nesting.unit_names import find_units

HOW = """\
units are named as the run sheet prints them:
  "C-1, unit 3"  "C-1: 3-5, 8"  "C-1: all"     units of an order line
  "load 2, pocket 4"  "load 2: 4, 6-9"         what lies in pockets of a load
"""


def add_to(commands: Commands) -> None:
    """Add this command to the parser."""
    parser = commands.add_parser(
        "remake",
        help="plan loads that make spoiled units again on the sheets that are there",
        epilog=HOW,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("plan", type=Path, metavar="PLAN", help="the plan.json of an output folder")
    parser.add_argument(
        "--units",
        nargs="+",
        action="extend",
        required=True,
        metavar="UNITS",
        help="the spoiled units; may be given repeatedly",
    )
    add_options(parser)
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Plan the loads, check, write, and sum up; exit code 1 if the plan is unsound."""
    writing = Writing.of(options)
    plan = open_plan(options.plan, writing)
    units = find_units(plan, options.units)
    writing.check(plan.job)
    return plan_and_write(options, writing, partial(remake, plan, units))
