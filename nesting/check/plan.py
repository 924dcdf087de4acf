"""The check of a plan: everything in it worked out again from its job."""

import math

from nesting.check.cost import check_cost
from nesting.check.cuts import check_cut_path
from nesting.check.kept import check_kept_sheets
from nesting.check.loads import check_loads
from nesting.check.markings import check_markings
from nesting.check.paths import origin_of
from nesting.check.report import Findings, Report
from nesting.check.seats import check_bodies
from nesting.check.sheets import check_sheets
from nesting.check.traces import check_sheet_trace
from nesting.plan_values import Plan


def check_plan(plan: Plan) -> Report:
    """Check a plan with code that shares nothing with what made it.

    Pockets, cut paths, distances, loads, units, markings, mark paths, stated lengths, costs and bounds
    are worked out again from `plan.job`, and so are the times of cuts and of travel. The times of marks
    and sweeps, `plan.plain_seconds` and `plan.layout_saving` are estimates that are not judged.

    Returns
    -------
    Every violation found; `nesting.check` lists their kinds. That units are left unplaced is no
    violation as long as the plan says so.
    """
    findings = Findings()
    check_bodies(plan, findings)
    check_sheets(plan, findings)
    stocks = {stock.name: stock for stock in plan.job.stock}
    for sheet in plan.sheets:
        if sheet.stock in stocks:
            stock, machine = stocks[sheet.stock], plan.job.machine
            check_sheet_trace(sheet, stock, findings)
            check_cut_path(sheet, stock, machine, origin_of(machine, stock), findings)
    check_kept_sheets(plan, findings)
    check_markings(plan, findings)
    check_loads(plan, findings)
    _check_bound(plan, findings)
    _check_loads_bound(plan, findings)
    check_cost(plan, findings)
    return findings.report()


def _check_bound(plan: Plan, findings: Findings) -> None:
    """Check that the plan itself does not cut fewer sheets than any plan can."""
    sheets = len(plan.sheets)
    if not math.isfinite(plan.bound) or plan.bound < 0:
        findings.add("number", "bound", f"it is {plan.bound!r}; a bound is a whole number from 0")
    elif plan.bound > sheets:
        findings.add("bound", "bound", f"at least {plan.bound} sheets are claimed; this plan cuts {sheets}")
    elif plan.proven and (plan.bound != sheets or plan.unplaced):
        found = f"claimed to be proven; the bound is {plan.bound} and {sheets} sheets are cut"
        findings.add("bound", "proven", f"{found}, with {len(plan.unplaced)} order lines not placed in full")


def _check_loads_bound(plan: Plan, findings: Findings) -> None:
    """Check that the plan itself does not have fewer loads than any plan can."""
    if plan.loads_bound < 0:
        findings.add("number", "loads_bound", f"it is {plan.loads_bound}; a bound is a whole number from 0")
    elif plan.loads_bound > len(plan.loads):
        found = f"at least {plan.loads_bound} loads are claimed; this plan has {len(plan.loads)}"
        findings.add("bound", "loads_bound", found)
