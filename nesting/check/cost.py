"""The check of what a plan costs: its parts added up again from its sheets, loads and times."""

import math

from nesting.check.report import Findings
from nesting.plan_values import Plan

_SAME = 1e-6
"""Share by which two sums may differ."""


def check_cost(plan: Plan, findings: Findings) -> None:
    """Check the parts of a plan's cost, and that the plan does not cost less than any plan can."""
    cost = plan.cost
    if cost is None:
        return
    for name, found in _parts(plan).items():
        stated = getattr(cost, name)
        if not math.isclose(stated, found, rel_tol=_SAME, abs_tol=_SAME):
            findings.add("number", f"cost.{name}", f"stated: {stated:.4f}; it adds up to {found:.4f}")
    if not (math.isfinite(cost.bound) and cost.bound >= 0):
        findings.add("number", "cost.bound", f"it is {cost.bound!r}; a bound is a number from 0")
    elif cost.bound > cost.total * (1 + _SAME):
        message = f"at least {cost.bound:.2f} is claimed; this plan costs {cost.total:.2f}"
        findings.add("bound", "cost.bound", message)


def _parts(plan: Plan) -> dict[str, float]:
    job = plan.job
    own = {stock.name: stock.cost or 0.0 for stock in job.stock}
    a_sheet, a_load, a_cut, a_minute = (
        (job.costs.sheet, job.costs.load, job.costs.cutting_minute, job.costs.machine_minute)
        if job.costs
        else (0.0, 0.0, 0.0, 0.0)
    )
    cutting = sum(sheet.cut_path.seconds for sheet in plan.sheets) / 60
    marking = sum(load.mark_path.seconds for load in plan.loads) / 60
    numbering = sum(sheet.marks_seconds for sheet in plan.sheets) / 60
    return {
        "stock": sum(own.get(sheet.stock, 0.0) for sheet in plan.sheets),
        "setting_up": a_sheet * len(plan.sheets),
        "cutting": a_cut * cutting,
        "loading": a_load * len(plan.loads),
        "machine": a_minute * (cutting + marking + numbering),
    }
