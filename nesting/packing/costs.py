"""Least cost: sheets, cutting, loads and marking weighed against each other where the job states costs."""

from collections.abc import Sequence
from dataclasses import dataclass

from nesting.fixture.hole import hole_of
from nesting.geometry.offset import offset
from nesting.geometry.region import Region
from nesting.job.job import Blank, Costs, Job, Machine, Stock
from nesting.packing.columns import Columns
from nesting.packing.fitting import Fitting
from nesting.packing.master import Chosen, Prices, Wanted, choose, plain
from nesting.packing.problem import Item, Sheet
from nesting.packing.reload import MODEL_SECONDS, Reloading

MOST_SHEETS = 12
"""More sheets than this are not tried one by one, only as columns."""


@dataclass(frozen=True)
class Cheapest:
    """A choice, and limits below: of the cost, and of loads whatever sheets are cut."""

    chosen: Chosen
    bound: float
    loads_bound: int
    loads_reason: str


def cheapest(job: Job, fitting: Fitting, wanted: Wanted, fewest: int) -> Cheapest:
    """Search for the least cost with `fewest` sheets or more; the fitting knows layouts for so many.

    Marking itself takes about the same time in every plan and is left out.
    """
    prices = prices_of(job, fitting.items, fitting.sheets, wanted)
    pieces = [sheet.quantity for sheet in fitting.sheets]
    least_sheet, least_load = min(prices.sheets, default=0.0), min(prices.loads)
    least_pockets = _least_pockets(wanted, prices.pockets)
    columns = Columns(fitting, wanted)
    whole = columns.bound(0.3)
    at_count: dict[int, int] = {}
    best: Chosen | None = None
    for count in range(fewest, MOST_SHEETS + 1):
        at_least = count * least_sheet + least_pockets + least_load * whole
        if best is not None and (at_least >= prices.total(best) - 1e-9 or fitting.packer.stop.reached):
            break
        part = fitting.packer.part(0.4)
        outer, fitting.packer = fitting.packer, part
        found = Reloading(fitting, wanted, count, pieces).fewest_loads()
        fitting.packer = outer
        outer.close(part)
        if found is None:
            continue
        at_count[count] = max(found.bound, whole)
        chosen = choose(fitting.known, wanted, MOST_SHEETS, pieces, outer.stop, 2 * MODEL_SECONDS, prices)
        best = min((c for c in (best, found.chosen, chosen) if c is not None), key=prices.total)
    best = best or plain(fitting.known, wanted)
    if best is None:
        raise RuntimeError("the first layouts have no pocket for one of the items")
    bound = _bound(at_count, fewest, whole, least_sheet, least_load) + least_pockets
    return Cheapest(best, bound, whole, columns.reason)


def prices_of(job: Job, items: Sequence[Item], sheets: Sequence[Sheet], wanted: Wanted) -> Prices:
    """Price sheets, pockets and loads: stock, setting up and, at the least, the time that cutting takes."""
    costs = job.costs or Costs()
    minute = costs.cutting_minute + costs.machine_minute
    refocusing = costs.machine_minute * job.machine.refocus.seconds / 60 if job.machine.refocus else 0.0
    outlines = [_outline_seconds(job, stock) for stock in job.stock]
    blanks = {blank.name: blank for blank in job.blanks}
    pockets = [least_cut_seconds(job, blanks[item.name]) for item in items]
    return Prices(
        [
            (sheet.cost or 0.0) + costs.sheet + minute * seconds / 60
            for sheet, seconds in zip(sheets, outlines, strict=True)
        ],
        [minute * seconds / 60 for seconds in pockets],
        [costs.load + refocusing * (len(group.stages) - 1) for group in wanted.groups],
    )


def least_cut_seconds(job: Job, blank: Blank) -> float:
    """Limit the time to cut a pocket for a blank from below: once round its hull at full speed.

    Notches and lead-ins only add to that.
    """
    found = []
    for stock in job.stock:
        if blank.solid is not None and blank.solid.seat(stock.thickness) is None:
            continue
        paths = offset(hole_of(blank, stock.thickness), -job.machine.kerf.get(stock.material, 0.0) / 2)
        found.append(sum(_round_seconds(path, job.machine) for path in paths))
    return min(found, default=0.0)


def _outline_seconds(job: Job, stock: Stock) -> float:
    return _round_seconds(stock.region, job.machine) if stock.cut_out else 0.0


def _round_seconds(region: Region, machine: Machine) -> float:
    return float(region.shape("on").convex_hull.length) / machine.cut_speed + machine.cut_dwell


def _bound(at_count: dict[int, int], fewest: int, whole: int, sheet: float, load: float) -> float:
    """Least of all numbers of sheets: what is proven for each, and for more what holds for any number."""
    more = max(at_count, default=fewest - 1) + 1
    costs = [count * sheet + load * loads for count, loads in at_count.items()]
    return min([*costs, more * sheet + load * whole])


def _least_pockets(wanted: Wanted, pocket_costs: Sequence[float]) -> float:
    """Cost of one pocket for every item that no kept sheet has one for."""
    return sum(cost for k, cost in enumerate(pocket_costs) if not any(c[k] for c in wanted.kept_most))
