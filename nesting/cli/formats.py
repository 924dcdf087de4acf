"""``nesting formats``: what is installed to read, pack and write."""

import argparse

from nesting._plugins import load, names, suffixes
from nesting.cli._say import Commands, say, say_json
from nesting.plug_in_options import lacking, option_names


def add_to(commands: Commands) -> None:
    """Add this command to the parser."""
    parser = commands.add_parser("formats", help="list readers, engines and writers that are installed")
    parser.add_argument("--json", action="store_true", help="print the same as JSON, for programs")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Print one line a plug-in."""
    if options.json:
        say_json(installed())
        return 0
    say("written (--formats), with their options (--option)")
    for name in names("plan_writers"):
        writer = load("plan_writers", name)
        missing = lacking(writer)
        say(f"  {name:10} {writer.summary}{f' ({missing})' if missing else ''}")
        for key, purpose in option_names(writer).items():
            say(f"  {'':10}   {name}.{key}: {purpose}")
    say(f"artwork and outlines read: {' '.join(suffixes('artwork_readers'))}")
    say(f"pictures read: {' '.join(suffixes('picture_readers'))}")
    say(f"fonts read: {' '.join(suffixes('font_readers'))}")
    say(f"order lists read: {' '.join(suffixes('order_readers'))}")
    say(f"packing engines: {' '.join(names('packing_engines'))}")
    say(f"racks kept: {' '.join(suffixes('racks'))}")
    say(f"executors: {' '.join(names('executors'))}")
    return 0


def installed() -> dict[str, object]:
    """Give what a program wants to know: writers with their options and what they lack, suffixes, names."""
    writers = {name: load("plan_writers", name) for name in names("plan_writers")}
    return {
        "written": {
            name: {"summary": writer.summary, "lacking": lacking(writer), "options": option_names(writer)}
            for name, writer in writers.items()
        },
        "artwork": suffixes("artwork_readers"),
        "pictures": suffixes("picture_readers"),
        "fonts": suffixes("font_readers"),
        "order_lists": suffixes("order_readers"),
        "packing_engines": names("packing_engines"),
        "racks": suffixes("racks"),
        "executors": names("executors"),
    }
