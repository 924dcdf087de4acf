"""Sheets and loads: which layouts to cut, and how often each is loaded."""

import math
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from nesting.job.job import Job
from nesting.packing.bounds import spent_bound
from nesting.packing.costs import cheapest, prices_of
from nesting.packing.demand import items_of, ordered, sheets_of
from nesting.packing.fitting import Fitting
from nesting.packing.kept import Reused, reusable, undominated
from nesting.packing.load_groups import Claim, claims_of, load_groups
from nesting.packing.master import Chosen, Prices, Wanted
from nesting.packing.packer import Packer
from nesting.packing.problem import Item, Problem, Sheet
from nesting.packing.reload import Reloading, on_smaller_stock, trimmed
from nesting.packing.result import Layout, Placement
from nesting.packing.sheet_plan import PlacedSheet, SheetPlan
from nesting.packing.stock_choice import fewest_sheets, most_units, one_each
from nesting.packing.stop import Stop
from nesting.packing.working_order import in_order_of_use, left_out, ordered_loads

SEARCH_SHARE = 0.8
"""Share of the time for the fewest loads; the rest is for smaller stock."""

AREA_REASON = "pockets for fewer loads cover more than the sheets, or are proven not to fit"


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
    Kept sheets of the job are used where they save sheets, and then where they save loads; with its
    `kept_first` for everything that has a pocket on them. With costs on
    any stock, the least cost of the stock comes before the number of loads; with the job's `costs`, the
    least cost of everything comes before all else but the number of units placed.
    """
    if not job.orders:
        return _nothing((), "nothing is ordered", proven=True)
    asked = _asked(job)
    packer = Packer(pack, Stop(seconds, effort, cancelled), seed, progress)
    if not asked.items:
        return _nothing(left_out(job, {}), "nothing fits on any sheet", proven=False)
    if job.sheet_use == "once":
        return _once(asked, packer)
    return _reloaded(asked, packer)


@dataclass(frozen=True)
class _Asked:
    """What a job asks, as packing sees it: items that may fit."""

    job: Job
    claims: Mapping[Claim, int]
    items: tuple[Item, ...]
    sheets: tuple[Sheet, ...]
    kept: tuple[Reused, ...]

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(item.name for item in self.items)

    @property
    def units(self) -> Counter[str]:
        """How many units of each blank are asked for."""
        units: Counter[str] = Counter()
        for (blank, _), count in self.claims.items():
            units[blank] += count
        return units

    @property
    def uncovered(self) -> list[Item]:
        """Items for which no kept sheet has a pocket."""
        return [item for item in self.items if not any(reused.most[item.name] for reused in self.kept)]

    def of(self, names: Sequence[str]) -> "_Asked":
        """Ask for these items only."""
        return replace(
            self,
            claims={claim: n for claim, n in self.claims.items() if claim[0] in names},
            items=tuple(item for item in self.items if item.name in names),
        )

    def wanted(self) -> Wanted:
        """State the demand for the models."""
        ways = [way.pockets for reused in self.kept for way in reused.ways]
        most = [reused.most for reused in self.kept]
        kept, kept_most = (
            tuple(tuple(pockets[name] for name in self.names) for pockets in some) for some in (ways, most)
        )
        weighed = self.job.costs is not None and self.job.sheet_use == "reload"
        groups = load_groups(self.job, self.claims, every=weighed)
        return Wanted(self.names, self.claims, tuple(groups), kept, tuple(dict.fromkeys(kept_most)))


def _asked(job: Job) -> _Asked:
    claims = claims_of(job)
    sheets, kept = tuple(sheets_of(job)), tuple(reusable(job, ordered(job)))
    ready = {name for reused in kept for name in reused.most}
    items = [i for i in items_of(job) if i.name in ready or any(_may_fit(i, sheet) for sheet in sheets)]
    return _Asked(job, claims, tuple(items), sheets, kept).of([item.name for item in items])


def _reloaded(asked: _Asked, packer: Packer) -> SheetPlan:
    """Plan sheets that are loaded as often as needed."""
    ones = one_each(asked.uncovered)
    first = _first(asked, ones, packer) if ones else None
    without = {one.name for one in ones} - {p.item for p in (first.placements if first else ())}
    if first is not None:
        packer.progress(f"sheets: {len(first.sheets)} (at least {_sheets_bound(first)[0]})")
    asked = asked.of([name for name in asked.names if name not in without])
    if not asked.items:
        return _nothing(left_out(asked.job, {}), "nothing fits on any sheet", proven=False)
    asked = replace(asked, kept=undominated(asked.kept, asked.names))
    ready = set(asked.names) - {item.name for item in asked.uncovered}
    fitting = Fitting(asked.items, asked.sheets, packer, ready if asked.job.kept_first else ())
    if first is not None:
        for k, sheet in enumerate(first.sheets):
            fitting.learn(_kind(sheet, asked.sheets), first.on_sheet(k))
    if asked.job.costs is not None:
        return _with_costs(asked, fitting, first)
    pieces = [sheet.quantity for sheet in asked.sheets]
    if first is not None and first.problem.objective == "cost":
        used = Counter(_kind(sheet, asked.sheets) for sheet in first.sheets)
        pieces = [used[t] for t in range(len(asked.sheets))]
    wanted = asked.wanted()
    part = packer.part(SEARCH_SHARE)
    fitting.packer = part
    found = Reloading(fitting, wanted, len(first.sheets) if first else 0, pieces).fewest_loads()
    packer.close(part)
    fitting.packer = packer
    if found is None:
        raise RuntimeError("the first layout has no pocket for one of the items")
    chosen = on_smaller_stock(trimmed(found.chosen, wanted, fitting), fitting, pieces, 0.5)
    reason = f"{AREA_REASON}; {found.gap}" if found.gap else AREA_REASON
    plan = _written(asked, chosen, _sheets_bound(first), found.bound, reason)
    return replace(plan, cost_bound=_stock_bound(first))


def _first(asked: _Asked, ones: Sequence[Item], packer: Packer) -> Layout:
    """Place one of each item or, where there is no room for all, those that make up the most units."""
    first = fewest_sheets(ones, asked.sheets, packer)
    if not first.unplaced:
        return first
    return most_units(ones, asked.sheets, asked.units, packer) or first


def _with_costs(asked: _Asked, fitting: Fitting, first: Layout | None) -> SheetPlan:
    """Plan for the least cost."""
    wanted = asked.wanted()
    found = cheapest(asked.job, fitting, wanted, len(first.sheets) if first else 0)
    chosen = trimmed(found.chosen, wanted, fitting)
    plan = _written(asked, chosen, _sheets_bound(first), found.loads_bound, found.loads_reason)
    return replace(plan, cost_bound=found.bound)


def _once(asked: _Asked, packer: Packer) -> SheetPlan:
    """Plan sheets on which every unit has a pocket of its own; kept sheets are filled first."""
    units = asked.units
    kept: list[Reused] = []
    for reused in sorted(asked.kept, key=lambda reused: -reused.ways[0].pockets.total()):
        if units & reused.ways[0].pockets:
            units -= reused.ways[0].pockets
            kept.append(replace(reused, ways=reused.ways[:1]))
    asked = replace(asked, kept=tuple(kept))
    items = [replace(item, quantity=units[item.name]) for item in asked.items if units[item.name]]
    prices = prices_of(asked.job, asked.items, asked.sheets, asked.wanted())
    first = packer(items, _priced(asked, prices), 1.0, 0) if items else None
    layouts = (
        [(_kind(sheet, asked.sheets), first.on_sheet(k)) for k, sheet in enumerate(first.sheets)]
        if first
        else []
    )
    # a load of each group; those that turn out to be empty fall away
    often = [[1] * len(asked.wanted().groups)] * (len(layouts) + len(asked.kept))
    bound = _sheets_bound(first)
    if any(reused.most != reused.ways[0].pockets for reused in asked.kept):
        bound = 0, "kept pockets may be filled in other ways", False
    plan = _in_order(asked, layouts, often, bound)
    cut = sum(sheet.kept is None for sheet in plan.sheets)
    least = max(cut, min(1, len(plan.loads)))
    reason = "every sheet that is cut is loaded once or more"
    cutting = sum(units[item.name] * price for item, price in zip(asked.items, prices.pockets, strict=True))
    cost = 0.0 if asked.kept or plan.unplaced else _stock_bound(first) + cutting
    return replace(plan, loads_bound=least, loads_reason=reason, cost_bound=cost)


def _priced(asked: _Asked, prices: Prices) -> tuple[Sheet, ...]:
    """Price sheets that are loaded once each: with the job's costs, setting up and one load included."""
    if asked.job.costs is None:
        return asked.sheets
    load = min(prices.loads)
    return tuple(
        replace(sheet, cost=price + load) for sheet, price in zip(asked.sheets, prices.sheets, strict=True)
    )


def _written(
    asked: _Asked, chosen: Chosen, bound: tuple[int, str, bool], loads_bound: int, loads_reason: str
) -> SheetPlan:
    """Write the answer down."""
    layouts = [(fitted.sheet, fitted.placements) for fitted, _ in chosen.layouts]
    often = [*(n for _, n in chosen.layouts), *chosen.kept]
    plan = _in_order(asked, layouts, often, bound)
    return replace(plan, loads_bound=min(loads_bound, len(plan.loads)), loads_reason=loads_reason)


def _in_order(
    asked: _Asked,
    layouts: Sequence[tuple[int, Sequence[Placement]]],
    often: Sequence[Sequence[int]],
    bound: tuple[int, str, bool],
) -> SheetPlan:
    """Put sheets and loads in working order, and see what they leave out.

    Parameters
    ----------
    layouts
        Of sheets to cut.
    often
        How often each of these, and then each way to fill a kept sheet, is loaded with each group.
    bound
        Limit on the sheets to cut, why it holds, and whether so many are proven the fewest.
    """
    job, groups = asked.job, asked.wanted().groups
    stocks = {stock.name: stock for stock in job.stock}
    placed = [PlacedSheet(stocks[asked.sheets[t].name], tuple(lying)) for t, lying in layouts]
    placed += [
        PlacedSheet(
            reused.sheet.stock, way.placements, reused.sheet, tuple(number for number, _ in way.lying)
        )
        for reused in asked.kept
        for way in reused.ways
    ]
    sheets, loads = in_order_of_use(placed, ordered_loads(job, groups, placed, often))
    held: Counter[Claim] = Counter()
    for load in loads:
        held.update({(blank, load.key): n for blank, n in load.counts})
    unplaced = left_out(job, held)
    cut = sum(sheet.kept is None for sheet in sheets)
    least, reason, proven = (min(1, cut), "not all units find a place", False) if unplaced else bound
    found = f"sheets to cut: {cut}; loads: {len(loads)}"
    if fetched := {sheet.kept.name for sheet in sheets if sheet.kept is not None}:
        found = f"kept sheets used: {len(fetched)}; {found}"
    return SheetPlan(sheets, loads, unplaced, least, proven and cut == least, reason, 0, found)


def _nothing(unplaced: tuple[tuple[str, int], ...], reason: str, *, proven: bool) -> SheetPlan:
    return SheetPlan((), (), unplaced, 0, proven, reason, 0, "")


def _stock_bound(first: Layout | None) -> float:
    """Limit what the sheets cost that are cut for what `first` was to place."""
    return first.bound if first is not None and first.problem.objective == "cost" else 0.0


def _sheets_bound(first: Layout | None) -> tuple[int, str, bool]:
    """Limit the sheets to cut for what `first` was to place; why, and whether `first` is proven best."""
    if first is None:
        return 0, "kept sheets have pockets for everything", True
    if first.problem.objective == "sheets":
        bound, reason = first.bound, first.bound_reason
    else:
        free = tuple(replace(sheet, cost=None) for sheet in first.problem.sheets)
        found = spent_bound(Problem(first.problem.items, free))
        bound, reason = found.value, found.reason
    if bound <= 1:
        return 1, "nothing can be marked without a sheet", first.proven
    return math.ceil(bound - 1e-9), reason, first.proven


def _may_fit(item: Item, sheet: Sheet) -> bool:
    """Whether an item's extent, at one of its turns, is within that of a sheet less its margins."""
    if item.turns == "any":
        return True
    for turn in item.turns:
        x0, y0, x1, y1 = item.held.moved(turn=turn).bounds
        across, along = sheet.width - 2 * sheet.margin, (sheet.height or math.inf) - 2 * sheet.margin
        if x1 - x0 <= across + 1e-6 and y1 - y0 <= along + 1e-6:
            return True
    return False


def _kind(sheet: Sheet, sheets: Sequence[Sheet]) -> int:
    return next(t for t, kind in enumerate(sheets) if kind.name == sheet.name)
