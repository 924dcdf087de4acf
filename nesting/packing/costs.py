"""Least cost: sheets, cutting, loads and marking weighed against each other where the job states costs."""

from collections.abc import Sequence
from dataclasses import dataclass

from nesting.job.job import Costs, Job
from nesting.packing.columns import Columns
from nesting.packing.fitting import Fitting
from nesting.packing.master import Chosen, Prices, Wanted, choose, plain
from nesting.packing.reload import MODEL_SECONDS, Reloading

MONEY = 10_000
"""Costs in the model's whole numbers."""

MOST_SHEETS = 12
"""More sheets than this are not tried one by one, only as columns."""


@dataclass(frozen=True)
class Cheapest:
    """A choice, what things cost, and limits below: of the cost, and of loads whatever sheets are cut."""

    chosen: Chosen
    bound: float
    loads_bound: int
    loads_reason: str
    sheet_costs: tuple[float, ...]
    pocket_costs: tuple[float, ...]
    load_cost: float

    def cost_of(self, chosen: Chosen) -> float:
        """Add up sheets, cutting and loads."""
        cut = sum(self.sheet_costs[f.sheet] for f, _ in chosen.layouts)
        pockets = sum(
            n * cost for f, _ in chosen.layouts for n, cost in zip(f.counts, self.pocket_costs, strict=True)
        )
        return cut + pockets + self.load_cost * chosen.loads


def cheapest(job: Job, fitting: Fitting, wanted: Wanted, fewest: int) -> Cheapest:
    """Search for the least cost with `fewest` sheets or more; the fitting knows layouts for so many.

    Marking itself takes about the same time in every plan and is left out.
    """
    sheet_costs, pocket_costs = _costs(job, fitting, job.costs or Costs())
    load_cost = (job.costs or Costs()).load
    prices = _prices(sheet_costs, pocket_costs, load_cost)
    pieces = [sheet.quantity for sheet in fitting.sheets]
    least_sheet, least_pockets = min(sheet_costs, default=0.0), _least_pockets(wanted, pocket_costs)
    columns = Columns(fitting, wanted)
    whole = columns.bound(0.3)
    at_count: dict[int, int] = {}
    best: Chosen | None = None

    def price(chosen: Chosen) -> float:
        return Cheapest(chosen, 0, 0, "", sheet_costs, pocket_costs, load_cost).cost_of(chosen)

    for count in range(fewest, MOST_SHEETS + 1):
        at_least = count * least_sheet + least_pockets + load_cost * whole
        if best is not None and (at_least >= price(best) - 1e-9 or fitting.packer.stop.reached):
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
        best = min((c for c in (best, found.chosen, chosen) if c is not None), key=price)
    best = best or plain(fitting.known, wanted)
    if best is None:
        raise RuntimeError("the first layouts have no pocket for one of the items")
    return Cheapest(
        best,
        _bound(at_count, fewest, whole, least_sheet, load_cost) + least_pockets,
        whole,
        columns.reason,
        sheet_costs,
        pocket_costs,
        load_cost,
    )


def _bound(at_count: dict[int, int], fewest: int, whole: int, sheet: float, load: float) -> float:
    """Least of all numbers of sheets: what is proven for each, and for more what holds for any number."""
    more = max(at_count, default=fewest - 1) + 1
    costs = [count * sheet + load * loads for count, loads in at_count.items()]
    return min([*costs, more * sheet + load * whole])


def _costs(job: Job, fitting: Fitting, costs: Costs) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Cost of a sheet of each kind without its pockets, and of cutting one pocket of each item."""
    sheets = tuple((sheet.cost or 0.0) + costs.sheet for sheet in fitting.sheets)
    speed = job.machine.cut_speed * 60
    lengths = [item.footprint.outer.length for item in fitting.items]
    return sheets, tuple(costs.cutting_minute * length / speed for length in lengths)


def _least_pockets(wanted: Wanted, pocket_costs: Sequence[float]) -> float:
    """Cost of one pocket for every item that no kept sheet has one for."""
    return sum(cost for k, cost in enumerate(pocket_costs) if not any(c[k] for c in wanted.kept_most))


def _prices(sheets: Sequence[float], pockets: Sequence[float], load: float) -> Prices:
    def whole(costs: Sequence[float]) -> list[int]:
        return [round(cost * MONEY) for cost in costs]

    return Prices(whole(sheets), whole(pockets), round(load * MONEY))
