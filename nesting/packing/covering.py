"""Choosing among filled sheets: those that place all there is for the least cost (a set-covering problem)."""

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nesting.packing.cp import Answer, solve
from nesting.packing.fits import Counts
from nesting.packing.programme import Programme
from nesting.packing.stop import Stop

Ints = NDArray[np.int64]
Prices = NDArray[np.float64]

_PER_ITERATION = 1e-5
"""Units of effort for a step of the simplex algorithm."""


@dataclass(frozen=True)
class Relaxed:
    """The choice with fractions of sheets allowed.

    Attributes
    ----------
    cost
        What it costs, an unplaced piece counting what it is worth.
    prices
        What one more piece of each kind would cost, shape (kinds,).
    scarcity
        What one more sheet of each sort would save, shape (sorts,).
    shares
        How much of each filled sheet is taken, shape (filled sheets,).
    """

    cost: float
    prices: Prices
    scarcity: Prices
    shares: Prices


def relaxed(
    wanted: Ints, stock: Sequence[tuple[int, float]], sorts: Ints, counts: Ints, worth: float, stop: Stop
) -> Relaxed | None:
    """Choose among filled sheets with fractions allowed, by a linear programme; None if there is no time.

    Parameters
    ----------
    wanted
        How many are wanted of each kind, shape (kinds,).
    stock
        For each sort of sheet how many there are, and the cost of one.
    sorts, counts
        The sort of each filled sheet, shape (n,), and how many of each kind lie on it, shape (n, kinds).
    worth
        What it costs to leave one unplaced, in the unit of a sheet's cost.
    stop
        Limit of the search.

    Examples
    --------
    >>> counts = np.array([[2, 0], [1, 1]])
    >>> found = relaxed(np.array([3, 1]), [(9, 1.0)], np.array([0, 0]), counts, 9.0, Stop(effort=1.0))
    >>> found.cost, found.prices.tolist(), found.shares.tolist()
    (2.0, [0.5, 0.5], [1.0, 1.0])
    """
    programme, kinds = Programme(), np.flatnonzero(wanted)
    for sort in sorts.tolist():
        programme.variable(0.0, math.inf, stock[sort][1])
    for k in kinds.tolist():
        there = np.flatnonzero(counts[:, k])
        unplaced = programme.variable(0.0, math.inf, worth)
        factors = counts[there, k].astype(float)
        programme.row([*there.tolist(), unplaced], [*factors.tolist(), 1.0], float(wanted[k]))
    scarce = [sort for sort, (quantity, _) in enumerate(stock) if quantity < wanted.sum()]
    for sort in scarce:
        there = np.flatnonzero(sorts == sort)
        programme.row(there.tolist(), [-1.0] * len(there), -float(stock[sort][0]))
    found = programme.solve(None if stop.reproducible else stop.left)
    stop.spend(_PER_ITERATION * programme.iterations)
    if found is None:
        return None
    prices, scarcity = np.zeros(len(wanted)), np.zeros(len(stock))
    prices[kinds] = np.maximum(programme.prices[: len(kinds)], 0.0)
    scarcity[scarce] = np.maximum(programme.prices[len(kinds) :], 0.0)
    costs = np.array([stock[sort][1] for sort in sorts.tolist()] + [worth] * len(kinds))
    return Relaxed(float(found @ costs), prices, scarcity, found[: len(sorts)])


def covering(
    wanted: Sequence[int],
    stock: Sequence[tuple[int, float]],
    filled: Sequence[tuple[int, Counts]],
    worth: Sequence[float],
    stop: Stop,
    most: float,
    hint: Counter[int] | None = None,
    budget: float | None = None,
) -> list[int] | None:
    """Choose filled sheets; kinds may come out more often than they are wanted.

    Parameters
    ----------
    wanted
        How many are wanted of each kind.
    stock
        For each sort of sheet how many there are, and the cost of one.
    filled
        The sort of sheet of each filled one, and ``(kind, how many)`` of what lies on it.
    worth
        What it costs to leave one of each kind unplaced, in the unit of a sheet's cost.
    stop, most
        Limits of the search.
    hint
        How often each filled sheet is taken in a choice to start from.
    budget
        Most that the sheets may cost together; within it their cost then counts for nothing.

    Returns
    -------
    The numbers of the filled sheets, one as often as it is taken; None if nothing was found.

    Examples
    --------
    >>> offcuts, whole = (2, 3.0), (9, 10.0)
    >>> filled = [(0, ((0, 2),)), (1, ((0, 5),))]
    >>> covering([4], [offcuts, whole], filled, [100.0], Stop(effort=1.0), 1.0)
    [0, 0]
    """
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    cover: list[list[tuple[cp_model.IntVar, int]]] = [[] for _ in wanted]
    use: dict[int, list[cp_model.IntVar]] = {}
    taken, cost = [], []
    for n, (sort, counts) in enumerate(filled):
        most_used = max(-(-wanted[k] // c) for k, c in counts)
        times = model.new_int_var(0, min(most_used, stock[sort][0]), "")
        model.add_hint(times, hint[n] if hint else 0)
        for k, c in counts:
            cover[k].append((times, c))
        use.setdefault(sort, []).append(times)
        taken.append(times)
        cost.append(times * round(1000 * stock[sort][1]))
    missing = []
    for k, count in enumerate(wanted):
        short = model.new_int_var(0, count, "")
        model.add(sum(times * c for times, c in cover[k]) + short >= count)
        missing.append(short * round(1000 * worth[k]))
    for sort, times_list in use.items():
        if stock[sort][0] < sum(wanted):
            model.add(sum(times_list) <= stock[sort][0])
    if budget is not None:
        model.add(sum(cost) <= round(1000 * budget))
    model.minimize(sum(missing) + (sum(cost) if budget is None else 0))
    answer, solver = solve(model, stop, most)
    if answer is not Answer.FOUND:
        return None
    return [n for n, times in enumerate(taken) for _ in range(solver.value(times))]
