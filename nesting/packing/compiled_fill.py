"""Filling one bed with boxes, a million times: compiled when first called.

It does what `nesting.packing.fill` does, on numbers in arrays, for a search whose steps are many and small.
Importing this module takes half a second and its first run some more, so that only such a search does.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from nesting.packing.compiling import compiled
from nesting.packing.fill import RULES

Ints = NDArray[np.int64]

_FREE = 4096
"""Most empty rectangles that are kept; what goes beyond is not filled."""

_LOW, _LEFT, _SHORT_SIDE, _AREA, _LONG_SIDE = range(len(RULES))


class Stock(NamedTuple):
    """What does not change: kinds of boxes, single boxes sorted by kind, and beds.

    Attributes
    ----------
    kind
        Of each box.
    first
        Index of the first box of each kind, and the number of boxes: ``(kinds + 1,)``.
    wide, high
        Sizes in which a kind may lie: ``(kinds, 2)``; `ways` says how many of the two there are.
    group
        Which of the distinct `gaps` a kind keeps.
    weight
        Of one left-over box of each kind.
    widths, heights
        Of each bed.
    blocked
        Rows ``bed, x0, y0, x1, y1``.
    """

    kind: Ints
    first: Ints
    wide: Ints
    high: Ints
    ways: Ints
    group: Ints
    gaps: Ints
    weight: NDArray[np.float64]
    widths: Ints
    heights: Ints
    blocked: Ints


class Lying(NamedTuple):
    """Where each box lies: its bed, -1 for a left-over, its size, and its lower left corner."""

    bed: Ints
    size: Ints
    x: Ints
    y: Ints


class Room(NamedTuple):
    """What filling a bed computes with.

    The largest empty rectangles for each gap, ``(gaps, rectangles, 4)``, their numbers, pieces of them, and
    the least width and height of a box to come.
    """

    boxes: Ints
    number: Ints
    pieces: Ints
    least: Ints


@compiled
def room(gaps: int) -> Room:
    """Make room to compute in, for so many distinct gaps."""
    return Room(
        np.empty((gaps, _FREE, 4), np.int64), np.zeros(gaps, np.int64),
        np.empty((4 * _FREE, 4), np.int64), np.zeros(2, np.int64),
    )  # fmt: skip


@compiled
def fill_bed(stock: Stock, lies: Lying, free: Room, bed: int, order: Ints, rule: int, limit: float) -> float:
    """Lay what fits beside what lies on a bed, kind after kind; give the weight of what is still left over.

    Once that is above `limit`, nothing more is laid.
    """
    _clear(stock, lies, free, bed, order)
    lost = 0.0
    for k in order:
        fits = True
        for box in range(stock.first[k], stock.first[k + 1]):
            if lies.bed[box] >= 0:
                continue
            if fits:
                fits = _lay(stock, lies, free, bed, k, box, rule)
            if not fits:
                lost += stock.weight[k]
        if lost > limit:
            break
    return lost


@compiled
def _clear(stock: Stock, lies: Lying, free: Room, bed: int, order: Ints) -> None:
    """Start with what lies on a bed and its keep-outs in the way of the kinds to come."""
    width, height = stock.widths[bed], stock.heights[bed]
    free.least[:] = width + 1, height + 1
    for k in order:
        for size in range(stock.ways[k]):
            free.least[0] = min(free.least[0], stock.wide[k, size])
            free.least[1] = min(free.least[1], stock.high[k, size])
    free.number[:] = 1
    for group in range(len(stock.gaps)):
        _write(free.boxes[group], 0, 0, 0, width, height)
    for row in stock.blocked:
        if row[0] == bed:
            for group in range(len(stock.gaps)):
                _cut(free, group, row[1], row[2], row[3], row[4])
    for box in range(len(lies.bed)):
        if lies.bed[box] == bed:
            _block(stock, lies, free, stock.kind[box], box)


@compiled
def _lay(stock: Stock, lies: Lying, free: Room, bed: int, k: int, box: int, rule: int) -> bool:
    """Lay a box where the rule likes it best; tell whether it fits."""
    group, best = stock.group[k], (1 << 60, 1 << 60)
    for size in range(stock.ways[k]):
        w, h = stock.wide[k, size], stock.high[k, size]
        for i in range(free.number[group]):
            x0, y0 = free.boxes[group, i, 0], free.boxes[group, i, 1]
            x1, y1 = free.boxes[group, i, 2], free.boxes[group, i, 3]
            dx, dy = x1 - x0 - w, y1 - y0 - h
            if dx < 0 or dy < 0:
                continue
            if rule == _LOW:
                score = y0 + h, x0
            elif rule == _LEFT:
                score = x0 + w, y0
            elif rule == _SHORT_SIDE:
                score = min(dx, dy), max(dx, dy)
            elif rule == _AREA:
                score = (w + dx) * (h + dy) - w * h, min(dx, dy)
            else:
                score = max(dx, dy), min(dx, dy)
            if score < best:
                best = score
                lies.bed[box], lies.size[box], lies.x[box], lies.y[box] = bed, size, x0, y0
    if lies.bed[box] < 0:
        return False
    _block(stock, lies, free, k, box)
    return True


@compiled
def _block(stock: Stock, lies: Lying, free: Room, k: int, box: int) -> None:
    """Put a box in the way of others, with the larger of two gaps round it."""
    x, y, size = lies.x[box], lies.y[box], lies.size[box]
    w, h = stock.wide[k, size], stock.high[k, size]
    for group in range(len(stock.gaps)):
        gap = max(stock.gaps[stock.group[k]], stock.gaps[group])
        _cut(free, group, x - gap, y - gap, x + w + gap, y + h + gap)


@compiled
def _cut(free: Room, group: int, bx0: int, by0: int, bx1: int, by1: int) -> None:
    """Take a box out of the largest empty rectangles; what is too small for any box is dropped."""
    boxes, pieces, narrowest, lowest = free.boxes[group], free.pieces, free.least[0], free.least[1]
    kept = cut = 0
    for i in range(free.number[group]):
        x0, y0, x1, y1 = boxes[i, 0], boxes[i, 1], boxes[i, 2], boxes[i, 3]
        if bx0 >= x1 or bx1 <= x0 or by0 >= y1 or by1 <= y0:
            _write(boxes, kept, x0, y0, x1, y1)
            kept += 1
            continue
        if bx0 - x0 >= narrowest:
            _write(pieces, cut, x0, y0, bx0, y1)
            cut += 1
        if x1 - bx1 >= narrowest:
            _write(pieces, cut, bx1, y0, x1, y1)
            cut += 1
        if by0 - y0 >= lowest:
            _write(pieces, cut, x0, y0, x1, by0)
            cut += 1
        if y1 - by1 >= lowest:
            _write(pieces, cut, x0, by1, x1, y1)
            cut += 1
    count = kept
    for i in range(cut):
        inside = _inside(pieces, i, boxes, kept, kept) or _inside(pieces, i, pieces, cut, i)
        if count < _FREE and not inside:
            _write(boxes, count, pieces[i, 0], pieces[i, 1], pieces[i, 2], pieces[i, 3])
            count += 1
    free.number[group] = count


@compiled
def _write(boxes: Ints, i: int, x0: int, y0: int, x1: int, y1: int) -> None:
    boxes[i, 0], boxes[i, 1], boxes[i, 2], boxes[i, 3] = x0, y0, x1, y1


@compiled
def _inside(pieces: Ints, i: int, others: Ints, count: int, before: int) -> bool:
    """Whether a piece lies in one of so many others; in one equal to it only if that comes `before`."""
    x0, y0, x1, y1 = pieces[i, 0], pieces[i, 1], pieces[i, 2], pieces[i, 3]
    for j in range(count):
        a0, b0, a1, b1 = others[j, 0], others[j, 1], others[j, 2], others[j, 3]
        larger = a0 < x0 or b0 < y0 or a1 > x1 or b1 > y1
        if a0 <= x0 and b0 <= y0 and a1 >= x1 and b1 >= y1 and (larger or j < before):
            return True
    return False
