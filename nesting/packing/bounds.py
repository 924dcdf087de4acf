"""Limits that no layout can pass, each with the sentence that says why."""

import math

import shapely

from nesting.packing.problem import Item, Problem, Sheet
from nesting.packing.result import Bound, Layout


def bound_for(layout: Layout) -> Bound:
    """Limit what a layout counts: `spent_bound`, or `placed_bound` while something is unplaced."""
    return placed_bound(layout.problem) if layout.unplaced else spent_bound(layout.problem)


def spent_bound(problem: Problem) -> Bound:
    """Least number of sheets, cost or length (mm) for which everything can be placed."""
    needed = sum(item.quantity * grown_area(item) for item in problem.items)
    gap = max(item.gap for item in problem.items)
    if problem.objective == "length":
        sheet = problem.sheets[0]
        width = sheet.width - 2 * sheet.margin + gap
        rest = math.pi * gap**2 / 4 - gap**2
        length = (needed - rest) / width - gap + 2 * sheet.margin
        return Bound(max(length, 0.0), f"the footprints with their gaps cover {needed:.0f} mm² of the roll")
    areas = sorted(((usable_area(sheet, gap), sheet) for sheet in problem.sheets), key=lambda p: -p[0])
    if problem.objective == "cost":
        return Bound(_least_cost(needed, areas), "the footprints with their gaps cover that area of stock")
    count = 0
    for area, sheet in areas:
        if area <= 0:
            break
        more = max(math.ceil(needed / area - 1e-9), 0)
        if sheet.quantity is not None:
            more = min(more, sheet.quantity)
        count += more
        needed -= more * area
    return Bound(float(max(count, 1)), "the footprints with their gaps cover the area of that many sheets")


def placed_bound(problem: Problem) -> Bound:
    """Most items that can be placed on the sheets there are."""
    gap = max(item.gap for item in problem.items)
    if problem.objective == "length" or any(sheet.quantity is None for sheet in problem.sheets):
        return Bound(float(problem.quantity), "no more are wanted")
    room = sum((sheet.quantity or 0) * usable_area(sheet, gap) for sheet in problem.sheets)
    count = 0
    for area, quantity in sorted((grown_area(item), item.quantity) for item in problem.items):
        fitting = min(quantity, math.floor(room / area + 1e-9))
        count += fitting
        room -= fitting * area
        if fitting < quantity:
            break
    return Bound(float(count), "more footprints with their gaps would cover more than the sheets' area")


def grown_area(item: Item) -> float:
    """Area in mm² of a footprint grown by half its gap all round, never more than it is.

    Footprints that keep their gaps do not overlap when each is grown so.
    """
    footprint, gap = item.footprint, item.gap
    if footprint.is_rectangle or footprint.is_circle:
        return footprint.area + footprint.outer.length * gap / 2 + math.pi * gap**2 / 4
    # a buffer with round joins falls short of the true one
    return float(footprint.shape("inner").buffer(gap / 2).area) if gap else footprint.area


def usable_area(sheet: Sheet, gap: float) -> float:
    """Area in mm² where footprints grown by half their gap can lie, never less than it is."""
    usable = sheet.region.shape("outer").buffer(-sheet.margin) if sheet.margin else sheet.region.shape()
    for keep_out in sheet.keep_outs:
        usable = usable.difference(keep_out.shape("inner"))
    if usable.is_empty:
        return 0.0
    # Steiner's formula bounds the area of what lies within gap/2 of a region
    pieces = len(shapely.get_parts(usable))
    return float(usable.area + usable.length * gap / 2 + pieces * math.pi * gap**2 / 4)


def _least_cost(needed: float, areas: list[tuple[float, Sheet]]) -> float:
    """Least cost of an area, sheets taken in fractions."""
    cost = 0.0
    for area, sheet in sorted(
        (pair for pair in areas if pair[0] > 0), key=lambda p: (p[1].cost or 0.0) / p[0]
    ):
        share = needed / area if sheet.quantity is None else min(needed / area, sheet.quantity)
        cost += share * (sheet.cost or 0.0)
        needed -= share * area
        if needed <= 1e-9:
            break
    return cost
