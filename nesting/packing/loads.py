"""Sheets and loads: which layouts to cut, how often each is loaded, and which unit lies where."""

import math
from collections import Counter, deque
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date

from nesting.job.job import Job, OrderLine
from nesting.packing.bounds import spent_bound
from nesting.packing.demand import items_of, sheets_of
from nesting.packing.problem import Item, Problem, Sheet
from nesting.packing.reload import Demand, Loaded, Packer, area_bound, loaded_once, one_each
from nesting.packing.result import Layout
from nesting.packing.rounds import HeightGroup, height_groups
from nesting.packing.sheet_plan import AssignedLoad, LoadPlan, PlacedSheet, SheetPlan
from nesting.packing.stock_choice import fewest_sheets, reloaded
from nesting.packing.stop import Stop
from nesting.plan_values import Pocket, Unit


def plan_sheets(
    job: Job,
    *,
    pack: Callable[..., Layout],
    seconds: float | None = None,
    effort: float | None = None,
    seed: int = 1,
    progress: Callable[[str], object] = str,
    cancelled: Callable[[], bool] = bool,
) -> SheetPlan:
    """Find the sheets to cut and how often to load each: most units, then fewest sheets, then fewest loads.

    Parameters
    ----------
    pack
        `nesting.packing.choice.pack`, or another with its signature.
    seconds, effort
        The limit: wall-clock time or, for a result that is the same on any machine, units of work.
    seed
        Start of the random numbers.
    progress
        Told about each better plan in words.
    cancelled
        Asked now and then; answering True ends the search with the best so far.

    Notes
    -----
    With costs on any stock, the least cost comes before the number of loads.
    """
    sheets = sheets_of(job)
    items = [item for item in items_of(job) if any(_may_fit(item, sheet) for sheet in sheets)]
    if not job.orders:
        return _nothing((), "nothing is ordered", proven=True)
    if not items:
        return _nothing(_left_out(job, Counter()), "nothing fits on any sheet", proven=False)
    packer = Packer(pack, Stop(seconds, effort, cancelled), seed, progress)
    groups = height_groups([blank for blank in job.blanks if blank.name in {item.name for item in items}])
    demand = Demand(tuple(items), tuple(groups))
    if job.sheet_use == "once":
        first = packer(items, sheets, 1.0, 0)
        demand = demand.of(Counter(p.item for p in first.placements))
        best = loaded_once(demand, first)
    else:
        first = fewest_sheets(one_each(items), sheets, packer)
        demand = demand.of({p.item: demand.wanted[p.item] for p in first.placements})
        best = reloaded(demand, first, sheets, packer) if demand.items else None
    return _sheet_plan(job, demand, first, best)


def assign_units(job: Job, plan: SheetPlan, pockets: Sequence[Sequence[Pocket]]) -> tuple[AssignedLoad, ...]:
    """Say which unit lies in which pocket of each load.

    Order lines go by due date, then priority, then as they stand in the job; the units of a line lie in
    pockets that follow each other.

    Parameters
    ----------
    pockets
        The pockets of each sheet of the plan.
    """
    waiting = _queues(job)
    assigned = []
    for load in plan.loads:
        units: list[tuple[int, Unit]] = []
        for name, count in load.counts:
            numbers = sorted(p.number for p in pockets[load.sheet] if p.blank == name)
            units += [(number, waiting[name].popleft()) for number in numbers[:count]]
        assigned.append(AssignedLoad(load.sheet, load.focus_height, tuple(sorted(units, key=lambda u: u[0]))))
    return tuple(assigned)


def in_turn(job: Job) -> list[OrderLine]:
    """Order lines by due date, then priority, then as they stand in the job."""
    return sorted(job.orders, key=lambda line: (line.due or date.max, line.priority))


def _may_fit(item: Item, sheet: Sheet) -> bool:
    """Whether an item's extent, at one of its turns, is within that of a sheet less its margins."""
    if item.turns == "any":
        return True
    for turn in item.turns:
        x0, y0, x1, y1 = item.footprint.moved(turn=turn).bounds
        across, along = sheet.width - 2 * sheet.margin, (sheet.height or math.inf) - 2 * sheet.margin
        if x1 - x0 <= across + 1e-6 and y1 - y0 <= along + 1e-6:
            return True
    return False


def _queues(job: Job) -> dict[str, deque[Unit]]:
    waiting: dict[str, deque[Unit]] = {blank.name: deque() for blank in job.blanks}
    for line in in_turn(job):
        waiting[line.blank].extend(Unit(line.name, number) for number in range(1, line.quantity + 1))
    return waiting


def _sheet_plan(job: Job, demand: Demand, first: Layout, best: Loaded | None) -> SheetPlan:
    """Write the answer down; `first` is the layout whose sheets were to be the fewest."""
    placed = Counter({item.name: item.quantity for item in demand.items})
    unplaced = _left_out(job, placed)
    if best is None:
        return _nothing(unplaced, "nothing fits on any sheet", proven=False)
    sheets, loads = _in_working_order(job, demand, best)
    least = area_bound(demand, sheets_of(job), len(sheets))
    bound, reason = (1, "some units fit on no sheet") if unplaced else _sheets_bound(first)
    return SheetPlan(
        sheets,
        loads,
        unplaced,
        bound,
        first.proven and len(sheets) == bound and not unplaced,
        reason,
        least,
        _explained(best.layout, len(sheets), len(loads), least),
    )


def _explained(layout: Layout, sheets: int, loads: int, least: int) -> str:
    found = f"sheets: {sheets}; loads: {loads}, no fewer than {least} by area"
    packed = f"packed by the engine {layout.engine!r}" if layout.engine else ""
    return "; ".join(part for part in (found, packed, layout.explanation) if part)


def _nothing(unplaced: tuple[tuple[str, int], ...], reason: str, *, proven: bool) -> SheetPlan:
    return SheetPlan((), (), unplaced, 0, proven, reason, 0, "")


def _sheets_bound(first: Layout) -> tuple[int, str]:
    """Least number of sheets for what `first` was to place."""
    if first.problem.objective == "sheets":
        bound, reason = first.bound, first.bound_reason
    else:
        free = tuple(replace(sheet, cost=None) for sheet in first.problem.sheets)
        found = spent_bound(Problem(first.problem.items, free))
        bound, reason = found.value, found.reason
    return (1, "nothing can be marked without a sheet") if bound <= 1 else (math.ceil(bound - 1e-9), reason)


def _left_out(job: Job, placed: Counter[str]) -> tuple[tuple[str, int], ...]:
    """Order lines of which not all units are placed; those whose turn comes last lose first."""
    left, short = placed.copy(), {}
    for line in in_turn(job):
        found = min(left[line.blank], line.quantity)
        left[line.blank] -= found
        short[line.name] = line.quantity - found
    return tuple((line.name, short[line.name]) for line in job.orders if short[line.name])


def _in_working_order(
    job: Job, demand: Demand, best: Loaded
) -> tuple[tuple[PlacedSheet, ...], tuple[LoadPlan, ...]]:
    """Put first the sheets, and on them the groups, whose units' turn comes first."""
    turn: dict[str, int] = {}
    for k, line in enumerate(in_turn(job)):
        turn.setdefault(line.blank, k)
    stocks = {stock.name: stock for stock in job.stock}
    layout = best.layout
    used = [k for k in range(len(layout.sheets)) if any(loads[k] for loads in best.loads)]
    order = sorted(used, key=lambda k: min(turn[p.item] for p in layout.on_sheet(k)))
    sheets = tuple(
        PlacedSheet(stocks[layout.sheets[k].name], tuple(replace(p, sheet=new) for p in layout.on_sheet(k)))
        for new, k in enumerate(order)
    )
    groups = sorted(range(len(demand.groups)), key=lambda g: min(turn[b] for b in demand.groups[g].blanks))
    left, loads = Counter(demand.wanted), []
    for new, k in enumerate(order):
        for g in groups:
            for _ in range(best.loads[g][k]):
                loads.append(_fill(new, demand.groups[g], sheets[new].pockets, left))
    return sheets, tuple(load for load in loads if load.counts)


def _fill(sheet: int, group: HeightGroup, pockets: Counter[str], left: Counter[str]) -> LoadPlan:
    """Fill the pockets of a group with what is left, and take it off."""
    counts = {name: min(pockets[name], left[name]) for name in group.blanks}
    left.subtract(counts)
    return LoadPlan(sheet, group.focus_height, tuple((name, n) for name, n in counts.items() if n))
