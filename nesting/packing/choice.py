"""The door to packing: which engines are asked, for how long, and what their answers are worth."""

import math
from collections.abc import Callable, Iterable
from concurrent.futures import Executor
from typing import Any

from nesting import _plugins, errors
from nesting.packing import bounds
from nesting.packing.problem import Item, Problem, Sheet
from nesting.packing.result import Layout
from nesting.packing.stop import Stop

GROUP = "packing_engines"
PREFERENCE = ("lattice", "rectangles", "polygons")
"""From the most special to the most general; an engine of somebody else's goes before them all."""


def pack(
    items: Iterable[Item] | Item,
    sheets: Iterable[Sheet] | Sheet,
    *,
    seconds: float = 10.0,
    effort: float | None = None,
    seed: int = 1,
    engine: str | None = None,
    progress: Callable[[Layout], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
    executor: Executor | None = None,
) -> Layout:
    """Place items on sheets.

    Parameters
    ----------
    items, sheets
        What is to be placed, and on what.
    seconds
        Wall-clock limit; the best layout found by then is returned.
    effort
        A limit in units of work instead: same input, seed and effort give the same layout.
    seed
        Start of the random numbers.
    engine
        Name of the engine to use; None chooses.
    progress
        Called with each better layout.
    cancelled
        Asked now and then; answering True ends the search.
    executor
        Runs several seeds at a time and keeps the best layout.

    Raises
    ------
    nesting.errors.InputError
        If an argument is wrong, or no engine can take the problem.

    Examples
    --------
    >>> from nesting.geometry.region import Region
    >>> layout = pack(Item("tile", Region.rectangle(3, 2), 4), Sheet(6, 4))
    >>> len(layout.sheets), layout.proven, layout.fill
    (1, True, 1.0)
    """
    problem = _problem(items, sheets, seconds, effort, seed)
    stop = Stop(seconds=None if effort is not None else seconds, effort=effort, cancelled=cancelled or bool)
    best: Layout | None = None

    def report(layout: Layout) -> None:
        nonlocal best
        if layout.better_than(best):
            best = _judged(layout, stop)
            if progress is not None:
                progress(best)

    for found in _engines(problem, engine):
        layout = found.pack(problem, stop, seed, report)
        if best is None or not best.better_than(layout):
            best = _judged(layout, stop)
        if best is not None and (best.proven or stop.reached):
            break
    assert best is not None
    return _judged(best, stop)


def _judged(layout: Layout, stop: Stop) -> Layout:
    """Give a layout the better of the general bound and what its engine proved."""
    bound = bounds.bound_for(layout)
    sharper = layout.bound < bound.value if layout.unplaced else layout.bound > bound.value
    if layout.bound_reason and sharper:
        return layout.with_changes(seconds=stop.elapsed)
    return layout.with_changes(bound=bound.value, bound_reason=bound.reason, seconds=stop.elapsed)


def _problem(
    items: Iterable[Item] | Item,
    sheets: Iterable[Sheet] | Sheet,
    seconds: float,
    effort: float | None,
    seed: int,
) -> Problem:
    wrong = []
    if not (math.isfinite(seconds) and seconds > 0):
        wrong.append(errors.Problem("", "seconds", f"must be a time above 0, not {seconds!r}"))
    if effort is not None and not (math.isfinite(effort) and effort > 0):
        wrong.append(errors.Problem("", "effort", f"must be a number above 0, not {effort!r}"))
    if not isinstance(seed, int) or seed < 0:
        wrong.append(errors.Problem("", "seed", f"must be a whole number from 0, not {seed!r}"))
    try:
        problem = Problem(
            (items,) if isinstance(items, Item) else tuple(items),
            (sheets,) if isinstance(sheets, Sheet) else tuple(sheets),
        )
    except ValueError as error:
        wrong.append(errors.Problem("", "items and sheets", str(error)))
    if wrong:
        raise errors.InputError(wrong)
    return problem


def _engines(problem: Problem, wanted: str | None) -> list[Any]:
    names = [wanted] if wanted else _plugins.names(GROUP)
    loaded = []
    for name in names:
        try:
            loaded.append(_plugins.load(GROUP, name))
        except errors.PlugInError as error:
            if "No module named" not in str(error):
                raise
    willing = [found for found in loaded if found.refusal(problem) is None]
    if not willing:
        reasons = "; ".join(f"{found.name}: {found.refusal(problem)}" for found in loaded)
        raise errors.InputError.single(f"no engine can pack this ({reasons})", where="items and sheets")
    return sorted(willing, key=lambda e: PREFERENCE.index(e.name) if e.name in PREFERENCE else -1)
