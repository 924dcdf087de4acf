"""Filling one bed by chance, led by what each box is worth: compiled when first called."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from nesting.packing.compiled_fill import Ints, Lying, Stock, fill_bed, room
from nesting.packing.compiling import compiled
from nesting.packing.fill import RULES

_BY_WORTH, _BY_DENSITY, _BY_SIZE = 0.4, 0.8, 0.9
"""How often boxes are laid by what they are worth, per area, or by area alone; else by worth times sides."""

_FIRST = 0.3
"""How often a box of chance comes before all others."""

_FORGOTTEN, _WORSE = 0.25, 0.02
"""What a filling forgets of the one before, as a share, and how much less it may be worth."""

_LITTLE = 1e-4
"""What a box worth nothing counts, so that it fills what is left."""

_RULES = len(RULES)


class Drawn(NamedTuple):
    """Fillings that are worth it.

    Attributes
    ----------
    spots
        Box, size, x and y of each box laid: ``(most, boxes, 4)``.
    number
        How many boxes each has.
    worth
        What they are worth.
    """

    spots: Ints
    number: Ints
    worth: NDArray[np.float64]


@compiled
def draw(
    stock: Stock,
    lies: Lying,
    kinds: Ints,
    worth: NDArray[np.float64],
    trials: int,
    row: int,
    least: float,
    drawn: Drawn,
    seed: int,
) -> tuple[int, int]:
    """Fill bed 0 so many times, and keep what is worth more than `least`.

    Parameters
    ----------
    stock
        What there is.
    lies
        Boxes that may be laid, at bed -1; all others lie elsewhere. It is left as it was.
    kinds
        The kinds that may be laid.
    worth
        Of one box of each kind.
    trials, row
        Fillings, and how many of them in a row keep most of the one before.
    drawn
        Takes the fillings; those beyond its length are lost.
    seed
        Of chance, up to 2³² - 1.

    Returns
    -------
    tuple
        How many fillings were kept, and how many boxes were laid.
    """
    np.random.seed(seed)  # of the compiled code's own generator
    free, measure = room(len(stock.gaps)), np.empty(len(kinds))
    kept = laid = 0
    held, now = np.zeros(len(worth), np.bool_), 0.0
    for trial in range(trials):
        if trial % row == 0:
            held[:], now = False, 0.0
        order = _order(stock, kinds, worth, held, measure)
        fill_bed(stock, lies, free, 0, order, int(np.random.randint(0, _RULES)), np.inf)
        total, number = 0.0, 0
        for box in range(len(lies.bed)):
            if lies.bed[box] == 0:
                total += worth[stock.kind[box]]
                number += 1
        laid += number
        better = total >= now - _WORSE * np.random.random()
        if better:
            held[:], now = False, total
        keep = total > least and kept < len(drawn.number)
        if keep:
            drawn.number[kept], drawn.worth[kept] = number, total
        number = 0
        for box in range(len(lies.bed)):
            if lies.bed[box] != 0:
                continue
            lies.bed[box] = -1
            if better:
                held[stock.kind[box]] = True
            if keep:
                spot = drawn.spots[kept, number]
                spot[0], spot[1], spot[2], spot[3] = box, lies.size[box], lies.x[box], lies.y[box]
                number += 1
        kept += keep
    return kept, laid


@compiled
def _order(
    stock: Stock,
    kinds: Ints,
    worth: NDArray[np.float64],
    held: NDArray[np.bool_],
    measure: NDArray[np.float64],
) -> Ints:
    """Sort kinds by a measure chosen by chance, and not quite exactly; most of those held come first."""
    way, power = np.random.random(), 0.5 + 0.7 * np.random.random()
    spread = (0.1, 0.3, 1.0)[np.random.randint(0, 3)]
    for i, k in enumerate(kinds):
        w, h, value = float(stock.wide[k, 0]), float(stock.high[k, 0]), worth[k] + _LITTLE
        if way < _BY_WORTH:
            size = value
        elif way < _BY_DENSITY:
            size = value / (w * h) ** power
        elif way < _BY_SIZE:
            size = w * h
        else:
            size = value * (w + h)
        measure[i] = size * (1 + spread * np.random.random())
        if held[k] and np.random.random() > _FORGOTTEN:
            measure[i] += 1e9
    if np.random.random() < _FIRST:
        measure[np.random.randint(0, len(kinds))] = np.inf
    return kinds[np.argsort(-measure)]
