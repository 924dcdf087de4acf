"""Sheets of a plan after they were cut: what is worth knowing of them to use them again."""

from collections import Counter
from dataclasses import replace
from datetime import date

from nesting.fixture.hole import hole_of
from nesting.geometry.offset import offset
from nesting.geometry.region import Region
from nesting.job.job import KeptHole, KeptPocket, KeptSheet
from nesting.plan_values import CutSheet, Plan


def kept_sheets(
    plan: Plan, *, kerf: float | None = None, cut_on: date | None = None
) -> tuple[KeptSheet, ...]:
    """Describe the sheets that a plan cuts as sheets at hand, with the loads that the plan makes on them.

    Parameters
    ----------
    kerf
        Width in mm that the beam removed, as measured; what was cut is then larger or smaller by the
        difference to the kerf planned for. None if it is as planned.
    cut_on
        When they were cut, as far as that is known.
    """
    loads = loads_on(plan)
    stocks = {stock.name: stock for stock in plan.job.stock}
    made = []
    for sheet in plan.sheets:
        stock = stocks[sheet.stock]
        planned = plan.job.machine.kerf[stock.material]
        wider = 0.0 if kerf is None else (kerf - planned) / 2
        made.append(
            KeptSheet(
                sheet.name,
                replace(stock, quantity=None, cost=None),
                _holes(plan, sheet, stock.thickness, wider),
                tuple(_pocket(sheet, k, wider) for k in range(len(sheet.pockets))),
                planned if kerf is None else kerf,
                cut_on,
                loads[sheet.name],
            )
        )
    return tuple(made)


def at_hand(plan: Plan) -> tuple[KeptSheet, ...]:
    """List the sheets that are there once a plan is carried out: kept ones of its job, and those it cuts."""
    loads = loads_on(plan)
    before = (replace(sheet, used=sheet.used + loads[sheet.name]) for sheet in plan.job.kept)
    return (*before, *kept_sheets(plan))


def loads_on(plan: Plan) -> Counter[str]:
    """Count the loads of each sheet: of those to cut by their names, of kept ones by theirs."""
    names = kept_names(plan)
    return Counter(names[load.sheet] for load in plan.loads)


def kept_names(plan: Plan) -> dict[str, str]:
    """Give the names under which sheets of a plan are kept, by the names that its loads use."""
    return {sheet.name: sheet.name for sheet in plan.sheets} | {s.name: s.stock for s in plan.kept}


def _holes(plan: Plan, sheet: CutSheet, thickness: float, wider: float) -> tuple[KeptHole, ...]:
    there = {pocket.blank for pocket in sheet.pockets}
    return tuple(
        KeptHole(blank.name, _widened(hole_of(blank, thickness), wider), blank.clearance + wider)
        for blank in plan.job.blanks
        if blank.name in there
    )


def _pocket(sheet: CutSheet, k: int, wider: float) -> KeptPocket:
    pocket = sheet.pockets[k]
    notches = tuple((x, y, diameter + 2 * wider) for x, y, diameter in pocket.notches)
    outline = _widened(pocket.outline, wider)
    return KeptPocket(pocket.number, pocket.blank, pocket.x, pocket.y, pocket.turn, outline, notches)


def _widened(hole: Region, wider: float) -> Region:
    return offset(hole, wider)[0] if wider else hole
