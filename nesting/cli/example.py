"""``nesting example``: write out a packaged job to try and to start from."""

import argparse
from pathlib import Path

from nesting.cli._say import Commands, say
from nesting.examples import names, write_example


def add_to(commands: Commands) -> None:
    """Add this command to the parser."""
    parser = commands.add_parser("example", help="write out a packaged example job")
    parser.add_argument("name", metavar="NAME", choices=names(), help=f"one of: {', '.join(names())}")
    parser.add_argument("folder", type=Path, metavar="DIR", help="a new folder for it")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Write the example and say what to do with it."""
    write_example(options.name, options.folder)
    say(f"wrote the example {options.name!r}; next: nesting plan {options.folder / 'job.toml'} --out out")
    return 0
