"""The stock that reloaded sheets are cut from: the number of sheets is fixed, their kinds are not."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from nesting.packing.problem import Item, Sheet
from nesting.packing.reload import (
    Demand,
    Loaded,
    Packer,
    area_bound,
    least_loads,
    loaded,
    merged,
    one_each,
    pockets_for,
)
from nesting.packing.result import Layout

FIRST_SHARE = 0.2
"""Share of the time for finding the fewest sheets; the rest is for the fewest loads on them."""

ONE_EACH_SHARE = 0.1
SEARCH_SHARE = 0.7


def fewest_sheets(ones: Sequence[Item], sheets: Sequence[Sheet], packer: Packer) -> Layout:
    """Place one of each item on the fewest sheets or, where stock has costs, on the cheapest."""
    first = packer(ones, sheets, FIRST_SHARE, 1)
    if first.problem.objective != "cost" or first.unplaced:
        return first
    for sheet in sorted(sheets, key=lambda s: s.cost or 0.0):
        if (sheet.cost or 0.0) >= first.spent - 1e-9:
            break
        found = packer(ones, [replace(sheet, quantity=1)], ONE_EACH_SHARE, 1)
        if not found.unplaced:
            # what is proven of the one sheet is not proven of all stock
            return first.with_changes(sheets=(sheet,), placements=found.placements)
    return first


def reloaded(demand: Demand, first: Layout, sheets: Sequence[Sheet], packer: Packer) -> Loaded:
    """Search for the fewest loads on as many sheets as `first` takes.

    Stock with costs stays what `first` found cheapest. Otherwise the largest sheets are searched, and
    a smaller one is taken when it does with the same loads.
    """
    start = first if first.problem.objective == "cost" else _roomiest(demand, first, sheets, packer)
    chosen = [replace(sheet, quantity=1) for sheet in start.sheets]
    part = packer.part(SEARCH_SHARE)
    best = least_loads(demand, start, chosen, part)
    packer.close(part)
    if len(chosen) > 1:
        return _each_apart(demand, best, packer)
    return best if first.problem.objective == "cost" else _smallest(demand, best, sheets, packer)


def _roomiest(demand: Demand, first: Layout, sheets: Sequence[Sheet], packer: Packer) -> Layout:
    """Place one of each item on the largest sheets that take them."""
    count = len(first.sheets)
    pieces = [
        sheet
        for sheet in sorted(sheets, key=lambda s: -s.region.area)
        for _ in range(min(sheet.quantity or count, count))
    ]
    own = sum(sheet.region.area for sheet in first.sheets)
    for k in range(len(pieces) - count + 1):
        chosen = [replace(piece, quantity=1) for piece in pieces[k : k + count]]
        if sum(piece.region.area for piece in chosen) <= own + 1e-6:
            break
        found = packer(one_each(demand.items), merged(chosen), ONE_EACH_SHARE, count)
        if not found.unplaced and len(found.sheets) == count:
            return found
    return first


def _smallest(demand: Demand, best: Loaded, sheets: Sequence[Sheet], packer: Packer) -> Loaded:
    """Look for a smaller sheet with room for as many pockets."""
    rounds = [sum(loads) for loads in best.loads]
    area = best.layout.sheets[0].region.area
    smaller = [sheet for sheet in sheets if sheet.region.area < area - 1e-6]
    for sheet in sorted(smaller, key=lambda s: s.region.area):
        if packer.stop.reached or area_bound(demand, [sheet], 1) > best.total:
            continue
        layout = packer(pockets_for(demand, rounds), [replace(sheet, quantity=1)], 0.5, 1)
        found = loaded(demand, layout)
        if found is not None and found.total <= best.total:
            return found
    return best


def _each_apart(demand: Demand, best: Loaded, packer: Packer) -> Loaded:
    """Search again on every sheet for the units that fall to it."""
    layouts: list[Layout] = []
    count = len(best.layout.sheets)
    for k, units in enumerate(_units_by_sheet(demand, best)):
        if not units:
            continue
        part = packer.part(1 / (count - k))
        alone = _alone(best.layout, k)
        chosen = [replace(alone.sheets[0], quantity=1)]
        layouts.append(least_loads(demand.of(units), alone, chosen, part).layout)
        packer.close(part)
    placements = tuple(
        replace(placement, sheet=k) for k, layout in enumerate(layouts) for placement in layout.placements
    )
    whole = best.layout.with_changes(
        sheets=tuple(sheet for layout in layouts for sheet in layout.sheets), placements=placements
    )
    found = loaded(demand, whole)
    return found if found is not None and found.total < best.total else best


def _units_by_sheet(demand: Demand, best: Loaded) -> list[Counter[str]]:
    """Count the units of each item that fall to each sheet when sheets are filled one after the other."""
    left = Counter(demand.wanted)
    shares = []
    for k in range(len(best.layout.sheets)):
        pockets = Counter(placement.item for placement in best.layout.on_sheet(k))
        share = Counter(
            {
                name: min(left[name], pockets[name] * loads[k])
                for group, loads in zip(demand.groups, best.loads, strict=True)
                for name in group.blanks
            }
        )
        left -= share
        shares.append(share)
    return shares


def _alone(layout: Layout, sheet: int) -> Layout:
    placements = tuple(replace(placement, sheet=0) for placement in layout.on_sheet(sheet))
    return layout.with_changes(sheets=(layout.sheets[sheet],), placements=placements)
