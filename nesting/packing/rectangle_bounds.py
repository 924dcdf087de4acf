"""Limits for rectangles turned by right angles, from dual feasible functions.

Two footprints may stand corner to corner: with a clear distance g, one of the two gaps between them, across
or along, is at least g/√2. Rectangles grown by g/√2 therefore never overlap, and a limit for them holds.
Footprints of other shapes and keep-outs are left out, which can only weaken a limit. Lengths are rounded
to whole µm, footprints down and sheets up.
"""

import math
from dataclasses import dataclass

import numpy as np

from nesting.packing.dual_feasible import values
from nesting.packing.problem import Item, Problem
from nesting.packing.shares import ShareTable, Sizes

_PER_MM = 1000
_SLACK = 1e-6
_SURE = 1e-7


@dataclass(frozen=True)
class GrownRectangles:
    """Rectangles with the least gap that is sure, and the smallest bed that holds every bed of a problem.

    Attributes
    ----------
    items
        The sizes that fit the bed, and the quantity, of every item that is a rectangle.
    width, height
        The bed; the height is 0 for a roll.
    gap
        What beds and footprints are grown by at most, in µm.
    unit
        The length of 1 in µm.
    """

    items: tuple[tuple[Sizes, int], ...]
    width: int
    height: int
    gap: int
    unit: int = 1

    @classmethod
    def of(cls, problem: Problem) -> "GrownRectangles":
        """Read the rectangles of a problem."""
        gap = max(_gap(item) for item in problem.items)
        width = max(_up(sheet.width - 2 * sheet.margin) for sheet in problem.sheets) + gap
        height = max(_up((sheet.height or 0) - 2 * sheet.margin) for sheet in problem.sheets) + gap
        if problem.objective == "length":
            height = 0
        items = [
            (_sizes(item, width, height), item.quantity) for item in problem.items if _is_rectangle(item)
        ]
        return cls(tuple(pair for pair in items if pair[0]), max(width, 0), max(height, 0), gap)._scaled()

    def _scaled(self) -> "GrownRectangles":
        """Divide by what the sizes have in common: sums of them use only multiples of it."""
        unit = math.gcd(*(length for sizes, _ in self.items for size in sizes for length in size)) or 1
        items = tuple((tuple((w // unit, h // unit) for w, h in sizes), count) for sizes, count in self.items)
        return GrownRectangles(items, self.width // unit, self.height // unit, self.gap, unit)

    @property
    def counts(self) -> list[tuple[int, int]]:
        """Pairs of index and quantity."""
        return [(k, count) for k, (_, count) in enumerate(self.items)]

    def table(self) -> ShareTable:
        """Tabulate the shares that the rectangles take of the bed."""
        sizes, quantities = zip(*self.items, strict=True)
        return ShareTable.of(sizes, quantities, self.width, self.height)


def fewest_sheets(problem: Problem) -> int:
    """Fewest sheets of the largest width and height together on which all rectangles can be placed."""
    grown = GrownRectangles.of(problem)
    if not grown.items:
        return 0
    return math.ceil(grown.table().strongest(grown.counts)[0] - _SURE)


def least_length(problem: Problem) -> float:
    """Least length of a roll in mm: widths re-valued, heights as they are, and the longest footprint."""
    grown = GrownRectangles.of(problem)
    if not grown.items:
        return 0.0
    first = np.array([sizes[0] for sizes, _ in grown.items], dtype=np.int64)
    other = np.array([sizes[-1] for sizes, _ in grown.items], dtype=np.int64)
    quantity = np.array([count for _, count in grown.items])
    n = len(first)
    table = values(np.concatenate([first[:, 0], other[:, 0]]), grown.width, np.tile(quantity, 2))
    share = np.minimum(table[:, :n] * first[:, 1], table[:, n:] * other[:, 1])
    longest = max(min(h for _, h in sizes) for sizes, _ in grown.items)
    length = max(float((share @ quantity).max()) * (1 - 1e-12), float(longest))
    return (length * grown.unit - grown.gap) / _PER_MM + 2 * problem.sheets[0].margin


def most_on_sheets(problem: Problem) -> int:
    """Most rectangles on the sheets there are, if nothing else is wanted and every sheet is counted."""
    grown = GrownRectangles.of(problem)
    sheets = sum(sheet.quantity or 0 for sheet in problem.sheets)
    if not grown.items:
        return 0
    table = grown.table()
    most = sum(count for _, count in grown.items)
    single = [_per_sheet(float(table.share(k).max())) for k, _ in grown.counts]
    if len(single) == 1:
        return min(most, sheets * single[0])
    row = table.row(table.strongest(grown.counts)[1])
    room, placed = sheets * (1 + _SURE), 0
    for share, count in sorted((float(row[k]), count) for k, count in grown.counts):
        fitting = count if share <= 0 else min(count, math.floor(room / share))
        placed, room = placed + fitting, room - fitting * share
        if fitting < count:
            break
    return min(most, placed)


def _per_sheet(share: float) -> int:
    return math.floor(1 / share + _SURE)


def _is_rectangle(item: Item) -> bool:
    right = item.turns != "any" and all(turn % 90 == 0 for turn in item.turns)
    return right and item.footprint.is_rectangle


def _sizes(item: Item, width: int, height: int) -> Sizes:
    x0, y0, x1, y1 = item.footprint.bounds
    w, h = _down(x1 - x0) + _gap(item), _down(y1 - y0) + _gap(item)
    assert item.turns != "any"
    ways = {(w, h) if turn % 180 == 0 else (h, w) for turn in item.turns}
    return tuple(sorted(way for way in ways if way[0] <= width and (way[1] <= height or not height)))


def _gap(item: Item) -> int:
    return _down(item.gap / math.sqrt(2))


def _down(length_mm: float) -> int:
    return math.floor(length_mm * _PER_MM + _SLACK)


def _up(length_mm: float) -> int:
    return math.ceil(length_mm * _PER_MM - _SLACK)
