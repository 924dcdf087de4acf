"""The check of what shares a load, and of which units are loaded first."""

import math
from collections import defaultdict
from collections.abc import Iterator
from datetime import date

from nesting.check.report import Findings
from nesting.job.job import Blank, OrderLine
from nesting.plan_values import Load, Plan

Turn = tuple[bool, date, int]
"""When a unit's turn comes: spares last, then by due date, then by priority."""


def check_sharing(plan: Plan, findings: Findings) -> None:
    """Check that units share loads only as the job allows, and that what is due first is loaded first."""
    lines = {order.name: order for order in plan.job.orders}
    blanks = {blank.name: blank for blank in plan.job.blanks}
    for load in plan.loads:
        there = [lines[f.unit.line] for f in load.fillings if f.unit.line in lines]
        _check_alike(plan, load, [(o, blanks[o.blank]) for o in there if o.blank in blanks], findings)
    _check_turns(plan, lines, blanks, findings)


def _check_alike(plan: Plan, load: Load, units: list[tuple[OrderLine, Blank]], findings: Findings) -> None:
    """Check that all units of a load have in common what the job asks for."""
    for what in plan.job.same_in_load:
        found = sorted({_of(what, *unit) for unit in units})
        if len(found) > 1:
            named = ", ".join(repr(value) if value else "none" for value in found)
            message = f"units of more than one {what} ({named}); a load is to hold units of one"
            findings.add("load", f"load {load.number}", message)


def _of(what: str, order: OrderLine, blank: Blank) -> str:
    if what == "customer":
        return order.customer or ""
    return blank.setting if what == "setting" else blank.finish or ""


def _check_turns(
    plan: Plan, lines: dict[str, OrderLine], blanks: dict[str, Blank], findings: Findings
) -> None:
    """Check that no unit is loaded before a unit that could take its place and whose turn comes earlier."""
    alike: dict[tuple[str, ...], dict[float, set[Turn]]] = defaultdict(lambda: defaultdict(set))
    for name, number, load, pocket in _loaded(plan):
        order = lines.get(name)
        if order is not None and order.blank in blanks:
            key = (order.blank, *(_of(what, order, blanks[order.blank]) for what in plan.job.same_in_load))
            if order.numbers:
                key += pocket  # what is made again keeps its pocket
            spare = number in order.unit_numbers[order.quantity - order.spares :]
            alike[key][load].add((spare, order.due or date.max, order.priority))
    for key, turns in alike.items():
        latest: Turn | None = None
        for load in sorted(turns):
            if latest is not None and min(turns[load]) < latest:
                place = f"load {load:g}" if load < math.inf else "unplaced"
                message = f"holds a unit of {key[0]} whose turn comes before that of one loaded earlier"
                findings.add("due", place, f"{message}; let them change places")
            latest = max(turns[load]) if latest is None else max(latest, *turns[load])


def _loaded(plan: Plan) -> Iterator[tuple[str, int, float, tuple[str, ...]]]:
    """List order line and number of every unit with its load, infinite for one left out, and its pocket."""
    loaded = {
        (f.unit.line, f.unit.number): (load.number, (load.sheet, str(f.pocket)))
        for load in plan.loads
        for f in load.fillings
    }
    for (line, number), (load, pocket) in loaded.items():
        yield line, number, load, pocket
    for order in plan.job.orders:
        for number in order.unit_numbers:
            if (order.name, number) not in loaded:
                yield order.name, number, math.inf, ()
