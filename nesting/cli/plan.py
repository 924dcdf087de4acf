"""``nesting plan``: a job in, a folder of files out."""

import argparse
from functools import partial
from pathlib import Path

from nesting.cli._planned import Writing, add_options, open_plan, plan_and_write
from nesting.cli._say import Commands
from nesting.extending import extend, extended_job
from nesting.job.load import load_job
from nesting.plan import make_plan


def add_to(commands: Commands) -> None:
    """Add this command to the parser."""
    parser = commands.add_parser("plan", help="plan a job and write its files")
    parser.add_argument("job", type=Path, metavar="JOB", help="job document, .toml or .json")
    parser.add_argument(
        "--extend",
        type=Path,
        metavar="PLAN",
        help="plan.json of a plan whose sheets are cut: plan what is new, in its free pockets first",
    )
    parser.add_argument(
        "--rack", type=Path, metavar="RACK", help="rack of kept sheets to use, before the one of the job"
    )
    add_options(parser)
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Plan, check, write, and sum up; exit code 1 if something is unplaced or unsound."""
    writing = Writing.of(options)
    job = load_job(options.job, rack=options.rack)
    if options.extend is None:
        writing.check(job)
        return plan_and_write(options, writing, partial(make_plan, job))
    earlier = open_plan(options.extend, writing)
    extended_job(earlier, job)
    writing.check(job)
    return plan_and_write(options, writing, partial(extend, earlier, job))
