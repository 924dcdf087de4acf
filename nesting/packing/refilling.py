"""Filling a few beds anew, hundreds of thousands of times a second: compiled when first called."""

import math

import numpy as np
from numpy.typing import NDArray

from nesting.packing.compiled_fill import Ints, Lying, Stock, fill_bed, room
from nesting.packing.compiling import compiled
from nesting.packing.fill import RULES

_FIRST = 0.3
"""How often the left-overs come before all others."""

_MANY, _EMPTIED = 12, 0.5
"""On more boxes than that a window may be emptied instead of the whole bed, but so often it is not."""

_NARROWEST = 0.3
"""Least side of a window, as a share of the bed's."""

_RULES = len(RULES)


@compiled
def refill(
    stock: Stock,
    now: Lying,
    best: Lying,
    weights: tuple[float, float],
    warmth: float,
    budget: int,
    seed: int,
) -> tuple[float, float, int]:
    """Take steps of simulated annealing until so many boxes were placed or nothing is left over.

    A step takes one to three beds, empties them or a window of them, and fills them anew from what lay
    there and the left-overs, in an order and by a rule with some chance in it. One that makes the weight
    left over a little greater is taken too, by Metropolis' rule.

    Parameters
    ----------
    stock
        What there is.
    now, best
        The state and the best state so far; both are changed.
    weights
        What is left over in them.
    warmth
        The weight by which a step may make it worse at a chance of 1/e.
    budget
        How many boxes to lay, counting those that lie still on beds of a step.
    seed
        Of chance, up to 2³² - 1.

    Returns
    -------
    tuple
        The weights left over, in the state and in the best one, and the boxes laid.
    """
    np.random.seed(seed)  # of the compiled code's own generator
    weight, least = weights
    kinds, beds, groups = len(stock.weight), len(stock.widths), len(stock.gaps)
    trial = Lying(now.bed.copy(), now.size.copy(), now.x.copy(), now.y.copy())
    free = room(groups)
    chosen, measure, pile = np.empty(3, np.int64), np.empty(kinds), np.empty(kinds, np.int64)
    laid = 0
    while weight > 0 and laid < budget:
        count = _choose_beds(chosen, beds)
        _copy(now, trial)
        for j in range(count):
            laid += _empty(stock, now, trial, chosen[j])
        piled = _pile(stock, now, trial, pile, measure)
        laid += 1
        if piled == 0:
            continue
        order = pile[:piled][np.argsort(-measure[:piled])]
        allowed = weight - warmth * math.log(1 - np.random.random())
        lost, rule = 0.0, int(np.random.randint(0, _RULES))
        for j in range(count):
            # what does not fit the last bed is left over, so filling it can be given up early
            limit = allowed if j == count - 1 else math.inf
            lost = fill_bed(stock, trial, free, chosen[j], order, rule, limit)
        if lost > allowed:
            continue
        weight = lost
        _copy(trial, now)
        if weight < least:
            least = weight
            _copy(now, best)
    return weight, least, laid


@compiled
def _choose_beds(chosen: Ints, beds: int) -> int:
    """Choose one to three beds, most often two."""
    count = min((1, 2, 2, 3)[np.random.randint(0, 4)], beds)
    for j in range(count):
        chosen[j] = np.random.randint(0, beds)
        while chosen[j] in chosen[:j]:
            chosen[j] = np.random.randint(0, beds)
    return count


@compiled
def _empty(stock: Stock, now: Lying, trial: Lying, bed: int) -> int:
    """Take all boxes off a bed, or those that meet a window; give how many lay there."""
    there = 0
    for box in range(len(now.bed)):
        there += now.bed[box] == bed
    x0, y0, x1, y1 = 0, 0, stock.widths[bed], stock.heights[bed]
    if there > _MANY and np.random.random() < _EMPTIED:
        width = int(x1 * (_NARROWEST + (1 - _NARROWEST) * np.random.random()))
        height = int(y1 * (_NARROWEST + (1 - _NARROWEST) * np.random.random()))
        x0, y0 = np.random.randint(0, x1 - width + 1), np.random.randint(0, y1 - height + 1)
        x1, y1 = x0 + width, y0 + height
    for box in range(len(now.bed)):
        if now.bed[box] == bed:
            k, x, y, size = stock.kind[box], now.x[box], now.y[box], now.size[box]
            if x < x1 and x + stock.wide[k, size] > x0 and y < y1 and y + stock.high[k, size] > y0:
                trial.bed[box] = -1
    return there


@compiled
def _pile(stock: Stock, now: Lying, trial: Lying, pile: Ints, measure: NDArray[np.float64]) -> int:
    """Collect the kinds to lay, each with a size chosen by chance, and not quite exact; give their number."""
    spread, way, first = (
        (0.2, 0.5, 1.0)[np.random.randint(0, 3)],
        np.random.random(),
        np.random.random() < _FIRST,
    )
    piled = box = 0
    boxes = len(now.bed)
    while box < boxes:
        if trial.bed[box] >= 0:
            box += 1
            continue
        k, over = stock.kind[box], False
        while box < boxes and stock.kind[box] == k:
            over = over or now.bed[box] < 0
            box += 1
        w, h = stock.wide[k, 0], stock.high[k, 0]
        size = float(w * h if way < 0.6 else max(w, h) if way < 0.8 else w if way < 0.9 else h)
        pile[piled] = k
        measure[piled] = size * (1 + spread * np.random.random()) + (1e18 if first and over else 0.0)
        piled += 1
    return piled


@compiled
def _copy(lies: Lying, other: Lying) -> None:
    for box in range(len(lies.bed)):
        other.bed[box], other.size[box] = lies.bed[box], lies.size[box]
        other.x[box], other.y[box] = lies.x[box], lies.y[box]
