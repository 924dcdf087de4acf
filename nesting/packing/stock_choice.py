"""The stock that sheets are cut from when they are to be few, or cheap."""

from collections.abc import Sequence
from dataclasses import replace

from nesting.packing.packer import Packer
from nesting.packing.problem import Item, Sheet
from nesting.packing.result import Layout

FIRST_SHARE = 0.2
"""Share of the time for finding the fewest sheets; the rest is for the fewest loads on them."""

ONE_EACH_SHARE = 0.1


def one_each(items: Sequence[Item]) -> list[Item]:
    """Ask for one of each item."""
    return [replace(item, quantity=1) for item in items]


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
