"""What a plan costs by the job's costs, part by part, and a limit below it."""

import math
from collections.abc import Iterable, Mapping, Sequence

from nesting.job.job import Costs, Job, MarkSetting
from nesting.packing.sheet_plan import SheetPlan
from nesting.plan_values import Cost, CutSheet, Load, Marking

REASON = "the least that sheets, loads and cutting cost in any plan, and marking without travel at full speed"


def cost_of(
    job: Job,
    packed: SheetPlan,
    sheets: Sequence[CutSheet],
    loads: Sequence[Load],
    least_marks: Mapping[str, float],
) -> Cost | None:
    """Add up what a plan costs; None if the job states no costs.

    Parameters
    ----------
    packed
        What the plan was made from, with its limit on what sheets, loads and cutting cost.
    sheets
        Those that are cut.
    least_marks
        Seconds that marking one unit takes at the least, by the marking's name.
    """
    if job.costs is None and all(stock.cost is None for stock in job.stock):
        return None
    costs = job.costs or Costs()
    price = {stock.name: stock.cost or 0.0 for stock in job.stock}
    cutting = math.fsum(sheet.cut_path.seconds for sheet in sheets)
    marking = math.fsum([*(s.marks_seconds for s in sheets), *(load.mark_path.seconds for load in loads)])
    least = math.fsum(least_marks[f.marking] for load in loads for f in load.fillings if f.marking)
    cost = Cost(
        stock=math.fsum(price[sheet.stock] for sheet in sheets),
        setting_up=costs.sheet * len(sheets),
        cutting=costs.cutting_minute * cutting / 60,
        loading=costs.load * len(loads),
        machine=costs.machine_minute * (cutting + marking) / 60,
        reason=REASON,
    )
    return cost.with_bound(packed.cost_bound + costs.machine_minute * least / 60)


def least_mark_seconds(
    ways: Iterable[Mapping[str, Marking]], settings: Mapping[str, MarkSetting]
) -> dict[str, float]:
    """Limit the time to mark a unit from below, whichever way its fills run: beam on, at full speed.

    Parameters
    ----------
    ways
        The markings by name, once for each direction of their fills.
    settings
        By the blank's name.
    """
    found: dict[str, float] = {}
    for markings in ways:
        for name, marking in markings.items():
            seconds = _beam_seconds(marking, settings[marking.blank])
            found[name] = min(found.get(name, seconds), seconds)
    return found


def _beam_seconds(marking: Marking, setting: MarkSetting) -> float:
    lines = [part.contours[0].length for part in marking.parts if part.kind == "line"]
    sweeps = [math.dist(sweep[:2], sweep[2:]) for part in marking.parts for sweep in part.sweeps]
    return setting.passes * math.fsum([*lines, *sweeps]) / setting.speed
