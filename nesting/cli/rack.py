"""``nesting rack``: the sheets that were cut and are kept."""

import argparse
from datetime import date
from pathlib import Path

from nesting.cli._say import Commands, positive, say, say_json
from nesting.output import recover
from nesting.plan_file import load_plan
from nesting.ports import RackSheet
from nesting.rack import add_to_rack, retire_from_rack, whole_rack
from nesting.words import counted


def add_to(commands: Commands) -> None:
    """Add this command to the parser."""
    parser = commands.add_parser("rack", help="keep sheets that were cut, list them, retire them")
    under = parser.add_subparsers(title="what to do", metavar="add|list|retire", required=True)
    add = under.add_parser("add", help="keep the sheets of a plan that was worked off, and count its loads")
    _rack_of(add)
    add.add_argument(
        "plan", type=Path, nargs="?", metavar="PLAN", help="plan.json; without it an empty rack is made"
    )
    add.add_argument(
        "--kerf",
        type=positive,
        metavar="MM",
        help="measured kerf of the new sheets (as planned if not given)",
    )
    add.add_argument("--cut-on", type=_date, metavar="DATE", help="when they were cut (today if not given)")
    add.add_argument("--again", action="store_true", help="count a plan that was added before once more")
    add.set_defaults(run=run_add)
    listing = under.add_parser("list", help="list the sheets on a rack")
    _rack_of(listing)
    listing.add_argument("--all", action="store_true", help="also those that are retired")
    listing.set_defaults(run=run_list)
    retire = under.add_parser("retire", help="take sheets out of use")
    _rack_of(retire)
    retire.add_argument("sheets", nargs="+", metavar="SHEET", help="name of a sheet, such as R1")
    retire.set_defaults(run=run_retire)


def run_add(options: argparse.Namespace) -> int:
    """Keep new sheets, count loads, and say what they are called."""
    plan = None
    if options.plan is not None:
        recover(options.plan.parent)
        plan = load_plan(options.plan)
    added = add_to_rack(options.rack, plan, kerf=options.kerf, cut_on=options.cut_on, again=options.again)
    if options.json:
        say_json({"added": added.new, "loads": added.loads})
        return 0
    for sheet, name in added.new.items():
        say(f"sheet {sheet} is kept as {name}; write this name on it")
    for name, loads in added.loads.items():
        say(f"{name}: {counted(loads, 'load')} more")
    if plan is None:
        say(f"{options.rack} is ready; sheets on it: {len(whole_rack(options.rack))}")
    return 0


def run_list(options: argparse.Namespace) -> int:
    """Print a line a sheet."""
    entries = [entry for entry in whole_rack(options.rack) if options.all or entry.retired is None]
    if options.json:
        say_json({"sheets": [_described(entry) for entry in entries]})
        return 0
    for entry in entries:
        kept, stock = entry.kept, entry.kept.stock
        pockets = ", ".join(f"{n} {name}" for name, n in _pockets(entry).items())
        size = f"{stock.width:g} x {stock.height:g} x {stock.thickness:g} mm"
        cut = f"cut on {kept.cut_on}, " if kept.cut_on else ""
        retired = f"; RETIRED on {entry.retired}" if entry.retired else ""
        say(f"{kept.name}: {pockets}; {stock.material} {size}, kerf {kept.kerf:g} mm")
        say(f"    {cut}{counted(kept.used, 'load')} so far; {_clearances(entry)}{retired}")
    if not entries:
        say("no sheets are on this rack; keep those of a plan with: nesting rack add RACK PLAN")
    return 0


def run_retire(options: argparse.Namespace) -> int:
    """Take sheets out of use, all that are named or none."""
    retire_from_rack(options.rack, options.sheets)
    if options.json:
        say_json({"retired": options.sheets})
    else:
        say(f"retired: {', '.join(options.sheets)}; no plan uses them any more")
    return 0


def _rack_of(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("rack", type=Path, metavar="RACK", help="the rack's file, such as shop.rack")
    parser.add_argument("--json", action="store_true", help="print the same as JSON, for programs")


def _date(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is not allowed; allowed: a date as 2026-05-30") from None


def _described(entry: RackSheet) -> dict[str, object]:
    kept, stock = entry.kept, entry.kept.stock
    return {
        "name": kept.name,
        "pockets": _pockets(entry),
        "clearances_mm": {hole.blank: hole.clearance for hole in kept.holes},
        "material": stock.material,
        "width_mm": stock.width,
        "height_mm": stock.height,
        "thickness_mm": stock.thickness,
        "kerf_mm": kept.kerf,
        "cut_on": kept.cut_on.isoformat() if kept.cut_on else None,
        "loads": kept.used,
        "retired_on": entry.retired.isoformat() if entry.retired else None,
    }


def _pockets(entry: RackSheet) -> dict[str, int]:
    made_for = [pocket.blank for pocket in entry.kept.pockets]
    return {name: made_for.count(name) for name in dict.fromkeys(made_for)}


def _clearances(entry: RackSheet) -> str:
    return "clearance " + ", ".join(f"{hole.clearance:.3g} mm ({hole.blank})" for hole in entry.kept.holes)
