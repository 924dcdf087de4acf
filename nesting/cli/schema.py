"""``nesting schema``: the JSON Schema of the job document or of ``plan.json``."""

import argparse

from nesting.cli._say import Commands, say_json
from nesting.job.load import job_schema
from nesting.plan_file import plan_schema


def add_to(commands: Commands) -> None:
    """Add this command to the parser."""
    parser = commands.add_parser("schema", help="print a JSON Schema")
    parser.add_argument("of", nargs="?", choices=("job", "plan"), default="job", help="which document (job)")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Print the schema."""
    say_json(job_schema() if options.of == "job" else plan_schema())
    return 0
