"""How many equal blanks one sheet can hold at most."""

import math

from nesting.packing.problem import Problem, Sheet

_SURE = 1e-9


def most_circles(diameter: float, gap: float, sheet: Sheet) -> int:
    """Most circles on a rectangular sheet, its keep-outs forgotten.

    Their centres are points at least ``diameter + gap`` apart in a rectangle of sides a and b; there
    are at most ``2 a b / (√3 d²) + (a + b) / d + 1`` of them (Oler, Canadian Mathematical Bulletin 4,
    1961).

    Examples
    --------
    >>> most_circles(10, 0, Sheet(30, 10))
    3
    """
    d = diameter + gap
    a = sheet.width - 2 * sheet.margin - diameter
    b = (sheet.height or 0) - 2 * sheet.margin - diameter
    if min(a, b) < -_SURE:
        return 0
    a, b = max(a, 0.0), max(b, 0.0)
    return math.floor(2 * a * b / (math.sqrt(3) * d * d) + (a + b) / d + 1 + _SURE)


def fewest_of(most: list[int], problem: Problem) -> tuple[int, int]:
    """Give the fewest sheets for all items, and the most items on the sheets there are.

    `most` says how many one sheet of each kind can hold at most.
    """
    left, sheets = problem.quantity, 0
    for holds, sheet in sorted(zip(most, problem.sheets, strict=True), key=lambda pair: -pair[0]):
        if holds > 0 and left > 0:
            taken = -(-left // holds)
            taken = taken if sheet.quantity is None else min(taken, sheet.quantity)
            sheets, left = sheets + taken, left - taken * holds
    return sheets, problem.quantity - max(left, 0)
