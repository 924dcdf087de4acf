"""Choosing among filled sheets: those that place all there is for the least cost (a set-covering problem)."""

from collections import Counter
from collections.abc import Sequence

from nesting.packing.cp import Answer, solve
from nesting.packing.fits import Counts
from nesting.packing.stop import Stop


def covering(
    wanted: Sequence[int],
    stock: Sequence[tuple[int, float]],
    filled: Sequence[tuple[int, Counts]],
    worth: float,
    stop: Stop,
    most: float,
    hint: Counter[int] | None = None,
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
        What it costs to leave one unplaced, in the unit of a sheet's cost.
    stop, most
        Limits of the search.
    hint
        How often each filled sheet is taken in a choice to start from.

    Returns
    -------
    The numbers of the filled sheets, one as often as it is taken; None if nothing was found.

    Examples
    --------
    >>> offcuts, whole = (2, 3.0), (9, 10.0)
    >>> filled = [(0, ((0, 2),)), (1, ((0, 5),))]
    >>> covering([4], [offcuts, whole], filled, 100.0, Stop(effort=1.0), 1.0)
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
        missing.append(short)
    for sort, times_list in use.items():
        if stock[sort][0] < sum(wanted):
            model.add(sum(times_list) <= stock[sort][0])
    model.minimize(sum(cost) + round(1000 * worth) * sum(missing))
    answer, solver = solve(model, stop, most)
    if answer is not Answer.FOUND:
        return None
    return [n for n, times in enumerate(taken) for _ in range(solver.value(times))]
