"""The stock that sheets are cut from when they are to be few, or cheap."""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import islice, product

from nesting.packing.packer import Packer
from nesting.packing.problem import Item, Sheet
from nesting.packing.result import Layout

FIRST_SHARE = 0.2
"""Share of the time for finding the fewest sheets; the rest is for the fewest loads on them."""

ONE_EACH_SHARE = 0.1

MOST_CHOICES = 60
"""Choices of items tried where there is no room for one of each, each with `CHOICE_SHARE` of what is left."""

CHOICE_SHARE = 0.03

_FEW = 10
"""Of more items not all choices are listed."""


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


def most_units(
    ones: Sequence[Item], sheets: Sequence[Sheet], units: Mapping[str, int], packer: Packer
) -> Layout | None:
    """Place one of each of those items that make up the most units, where there is no room for all items.

    None if no choice is found that fits, or time is up.
    """
    failed = [frozenset(one.name for one in ones)]
    for names in islice(_choices({one.name: units[one.name] for one in ones}), MOST_CHOICES):
        if packer.stop.reached:
            break
        if any(known <= names for known in failed):
            continue
        chosen = [one for one in ones if one.name in names]
        if not packer(chosen, sheets, CHOICE_SHARE, math.inf).unplaced:
            return fewest_sheets(chosen, sheets, packer)
        failed.append(names)
    return None


def _choices(units: Mapping[str, int]) -> Iterator[frozenset[str]]:
    """List choices of items, those with the most units first; of many items only without the rarest.

    >>> [sorted(names) for names in _choices({"a": 3, "b": 1, "c": 1})]
    [['a', 'b', 'c'], ['a', 'b'], ['a', 'c'], ['a'], ['b', 'c'], ['b'], ['c']]
    """
    names = sorted(units, key=lambda name: -units[name])
    if len(names) > _FEW:
        yield from (frozenset(names[:count]) for count in range(len(names), 0, -1))
        return
    some = [frozenset(n for n, there in zip(names, row, strict=True) if there)
            for row in product((True, False), repeat=len(names))]  # fmt: skip
    yield from sorted(filter(None, some), key=lambda chosen: -sum(units[name] for name in chosen))
