"""``nesting plan``: a job in, a folder of files out."""

import argparse
from functools import partial
from pathlib import Path

from nesting.cli._planned import Writing, add_options, plan_and_write
from nesting.cli._say import Commands
from nesting.job.load import load_job
from nesting.plan import make_plan


def add_to(commands: Commands) -> None:
    """Add this command to the parser."""
    parser = commands.add_parser("plan", help="plan a job and write its files")
    parser.add_argument("job", type=Path, metavar="JOB", help="job document, .toml or .json")
    add_options(parser)
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Plan, check, write, and sum up; exit code 1 if something is unplaced or unsound."""
    writing = Writing.of(options)
    job = load_job(options.job)
    writing.check(job)
    return plan_and_write(options, writing, partial(make_plan, job))
