"""Limits that no layout can pass, each with the sentence that says why."""

import math
from dataclasses import replace
from functools import lru_cache

import shapely
from shapely.geometry.base import BaseGeometry

from nesting.packing import equal_bounds, rectangle_bounds
from nesting.packing.problem import Item, Problem, Sheet
from nesting.packing.result import Bound, Layout

_AREA = "the footprints, each with half its gap all round, cover"
_FUNCTIONS = "dual feasible functions of the rectangles' widths and heights show it"
_SURE = 1e-9


def bound_for(layout: Layout) -> Bound:
    """Limit what a layout counts: `spent_bound`, or `placed_bound` while something is unplaced."""
    return placed_bound(layout.problem) if layout.unplaced else spent_bound(layout.problem)


@lru_cache(maxsize=8)
def spent_bound(problem: Problem) -> Bound:
    """Least number of sheets, cost or length (mm) for which everything can be placed."""
    if any(item.edge for item in problem.items):
        return spent_bound(without_edges(problem))
    if problem.objective == "length":
        return _length_bound(problem)
    count = _sheets_bound(problem)
    return _cost_bound(problem, count) if problem.objective == "cost" else count


@lru_cache(maxsize=8)
def placed_bound(problem: Problem) -> Bound:
    """Most items that can be placed on the sheets there are."""
    if any(item.edge for item in problem.items):
        return placed_bound(without_edges(problem))
    if problem.objective == "length" or any(sheet.quantity is None for sheet in problem.sheets):
        return Bound(float(problem.quantity), "no more are wanted")
    gap = max(item.gap for item in problem.items)
    room = sum((sheet.quantity or 0) * usable_area(sheet, gap) for sheet in problem.sheets)
    count = 0
    for area, quantity in sorted((grown_area(item), item.quantity) for item in problem.items):
        fitting = min(quantity, math.floor(room / area + _SURE))
        count += fitting
        room -= fitting * area
        if fitting < quantity:
            break
    reason = f"{_AREA} more than the sheets when it is more than {count}"
    if all(item.footprint.is_rectangle and item.turns != "any" and all(t % 90 == 0 for t in item.turns)
           for item in problem.items):  # fmt: skip
        other = rectangle_bounds.most_on_sheets(problem)
        if other < count:
            return Bound(float(other), f"no more than {other}: {_FUNCTIONS}")
    most = _most_equal(problem)
    if most is not None and equal_bounds.fewest_of(most, problem)[1] < count:
        count = equal_bounds.fewest_of(most, problem)[1]
        reason = f"a sheet holds no more than {max(most)} of them"
    if count >= problem.quantity:
        return Bound(float(count), "no more are wanted")
    return Bound(float(count), reason)


def without_edges(problem: Problem) -> Problem:
    """Make the sheets of a problem larger by as much as any item may reach beyond its edge.

    Whatever can be placed there can be placed here, keep-outs left out: a bound of this problem holds.
    """
    over = max(_overhang(item) for item in problem.items)
    sheets = [
        replace(s, width=s.width + 2 * over, height=(s.height or 0.0) + 2 * over, keep_outs=(), outline=None)
        for s in problem.sheets
    ]
    return Problem(tuple(replace(item, edge=None) for item in problem.items), tuple(sheets))


def _overhang(item: Item) -> float:
    """How far a footprint reaches at the most beyond what of it keeps the margin, in any turn."""
    if item.turns == "any":
        return item.footprint.outer.length
    pairs = [[region.moved(turn=t).bounds for region in (item.footprint, item.held)] for t in item.turns]
    ways = [abs(a - b) for whole, held in pairs for a, b in zip(whole, held, strict=True)]
    return max(ways)


def _length_bound(problem: Problem) -> Bound:
    gap, sheet = max(item.gap for item in problem.items), problem.sheets[0]
    width = sheet.width - 2 * sheet.margin + gap
    needed = sum(item.quantity * grown_area(item) for item in problem.items)
    corners = gap**2 - math.pi * gap**2 / 4
    area = (needed + corners) / width - gap + 2 * sheet.margin if width > gap else 0.0
    length = rectangle_bounds.least_length(problem)
    if length > area + _SURE:
        return Bound(length, f"no roll shorter than {length:.3f} mm: {_FUNCTIONS}")
    return Bound(max(area, 0.0), f"{_AREA} {max(area, 0.0):.3f} mm of the roll")


def _sheets_bound(problem: Problem) -> Bound:
    gap = max(item.gap for item in problem.items)
    needed = sum(item.quantity * grown_area(item) for item in problem.items)
    by_area = 0
    for area, sheet in sorted(((usable_area(s, gap), s) for s in problem.sheets), key=lambda pair: -pair[0]):
        if area > 0:
            more = max(math.ceil(needed / area - _SURE), 0)
            more = more if sheet.quantity is None else min(more, sheet.quantity)
            by_area += more
            needed -= more * area
    found = [(max(by_area, 1), f"{_AREA} more than {max(by_area, 1) - 1} sheets")]
    most = _most_equal(problem)
    if most is not None:
        found.append(
            (equal_bounds.fewest_of(most, problem)[0], f"a sheet holds no more than {max(most)} of them")
        )
    count = rectangle_bounds.fewest_sheets(problem)
    found.append((count, f"fewer than {count} sheets do not suffice: {_FUNCTIONS}"))
    best = max(found, key=lambda pair: pair[0])
    return Bound(float(best[0]), best[1])


def _cost_bound(problem: Problem, count: Bound) -> Bound:
    gap = max(item.gap for item in problem.items)
    needed = sum(item.quantity * grown_area(item) for item in problem.items)
    by_area = _least_cost(needed, [(usable_area(sheet, gap), sheet) for sheet in problem.sheets])
    by_count, left = 0.0, int(count.value)
    for cost, quantity in sorted((s.cost or 0.0, s.quantity or left) for s in problem.sheets):
        taken = min(left, quantity)
        by_count, left = by_count + taken * cost, left - taken
    if by_count > by_area:
        return Bound(by_count, f"the cheapest {count.value:.0f} sheets cost that; {count.reason}")
    return Bound(by_area, f"{_AREA} sheets of that cost, fractions of a sheet allowed")


def _most_equal(problem: Problem) -> list[int] | None:
    """Say how many a sheet of each kind holds, if all items are equal and none is larger in a way."""
    first = problem.items[0]
    size = _size(first)
    if any(_size(item) != size or item.gap != first.gap for item in problem.items[1:]):
        return None
    area = min(grown_area(item) for item in problem.items)
    most = [math.floor(usable_area(sheet, first.gap) / area + _SURE) for sheet in problem.sheets]
    if all(item.footprint.is_circle for item in problem.items):
        circles = [equal_bounds.most_circles(size[0], first.gap, sheet) for sheet in problem.sheets]
        most = [min(pair) for pair in zip(most, circles, strict=True)]
    return most


def _size(item: Item) -> tuple[float, float]:
    x0, y0, x1, y1 = item.footprint.bounds
    return x1 - x0, y1 - y0


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
    if sheet.outline is None and not sheet.keep_outs:
        width, height = sheet.width - 2 * sheet.margin, (sheet.height or 0) - 2 * sheet.margin
        if width <= 0 or height <= 0:
            return 0.0
        return width * height + (width + height) * gap + math.pi * gap**2 / 4
    usable: BaseGeometry = sheet.region.shape("outer")
    usable = usable.buffer(-sheet.margin) if sheet.margin else usable
    for keep_out in sheet.keep_outs:
        usable = usable.difference(keep_out.shape("inner"))
    # Steiner's formula bounds the area of what lies within gap/2 of a region
    pieces = len(shapely.get_parts(usable))
    return (
        0.0
        if usable.is_empty
        else float(usable.area + usable.length * gap / 2 + pieces * math.pi * gap**2 / 4)
    )


def _least_cost(needed: float, areas: list[tuple[float, Sheet]]) -> float:
    """Least cost of an area, sheets taken in fractions."""
    cost = 0.0
    usable = [pair for pair in areas if pair[0] > 0]
    for area, sheet in sorted(usable, key=lambda pair: (pair[1].cost or 0.0) / pair[0]):
        share = needed / area if sheet.quantity is None else min(needed / area, sheet.quantity)
        cost += share * (sheet.cost or 0.0)
        needed -= share * area
        if needed <= _SURE:
            break
    return cost
