"""The command line: parses, calls one command, and turns errors into messages and exit codes."""

import argparse
import sys
from collections.abc import Sequence

import nesting
from nesting.cli import check, completion, example, formats, plan, rack, remake, schema
from nesting.cli._say import say_json
from nesting.errors import NestingError

COMMANDS = (plan, remake, check, rack, example, schema, formats, completion)
EXIT_CODES = (
    "exit codes: 0 done; 1 the plan is unsound or units are left unplaced; "
    "2 bad input or usage; 3 internal error"
)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line.

    Parameters
    ----------
    arguments
        The words after the command's name; None takes the process's own.

    Returns
    -------
    The exit code: 0 done, 1 unsound or units unplaced, 2 bad input or usage, 3 internal error.
    """
    parser = _parser()
    options = parser.parse_args(arguments, argparse.Namespace(parser=parser))
    try:
        return int(options.run(options))
    except NestingError as error:
        if getattr(options, "json", False):
            say_json({"problems": str(error).splitlines()})
        print(_refusal(error), file=sys.stderr)  # noqa: T201
        return error.exit_code
    except BrokenPipeError:
        sys.stderr.close()
        return 0
    except KeyboardInterrupt:
        print("nesting: stopped; nothing was written", file=sys.stderr)  # noqa: T201
        return 130
    except Exception as error:  # the last line of defence: no traceback reaches an operator
        if options.debug:
            raise
        text = (
            f"nesting: internal error: {type(error).__name__}: {error}\nRun again with --debug to see where."
        )
        print(text, file=sys.stderr)  # noqa: T201
        return 3


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="nesting", description="Plan sheets to cut and loads to mark from a job.", epilog=EXIT_CODES
    )
    parser.add_argument("--version", action="version", version=f"nesting {nesting.__version__}")
    parser.add_argument("--debug", action="store_true", help="show where an internal error happened")
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", required=True)
    for command in COMMANDS:
        command.add_to(commands)
    return parser


def _refusal(error: NestingError) -> str:
    lines = str(error).splitlines() or [type(error).__name__]
    if len(lines) == 1:
        return f"nesting: {lines[0]}"
    return "\n".join([f"nesting: {len(lines)} problems", *(f"  {line}" for line in lines)])
