"""The door to packing: which engines are asked, for how long, and what their answers are worth."""

import math
import os
from collections.abc import Callable, Iterable
from concurrent.futures import CancelledError, Executor, Future
from dataclasses import dataclass

from nesting import _plugins, errors
from nesting.packing import bounds
from nesting.packing.problem import Item, Problem, Sheet
from nesting.packing.result import Layout
from nesting.packing.stop import Stop
from nesting.ports import PackingEngine

GROUP = "packing_engines"

SPECIAL = ("lattice", "rectangles", "polygons")
"""The engines of this package, from the most special to the most general."""

_FEW = 200
"""Up to so many equal circles, the general engine may try to beat the rows."""


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
        Wall-clock limit; the best layout found by then is returned. What the search compiles the first
        time on a machine, some 10 to 25 s, does not count.
    effort
        A limit in units of work instead: same input, seed and effort give the same layout.
    seed
        Start of the random numbers.
    engine
        Name of the engine to use; None chooses.
    progress
        Called with each better layout.
    cancelled
        Asked now and then; answering True ends the search with the best layout so far.
    executor
        Runs the following seeds at the same time, one for each of its workers, as far as it tells
        them; the best layout of all is kept.

    Raises
    ------
    nesting.errors.InputError
        If an argument is wrong, or no engine can take the problem.
    nesting.errors.PlugInError
        If no engine has that name, or one fails to load.

    Examples
    --------
    >>> from nesting.geometry.region import Region
    >>> layout = pack(Item("tile", Region.rectangle(3, 2), 4), Sheet(6, 4))
    >>> len(layout.sheets), layout.proven, layout.fill
    (1, True, 1.0)
    """
    problem = _problem(items, sheets, seconds, effort, seed)
    limit: tuple[float | None, float | None] = (seconds, None) if effort is None else (None, effort)
    stop = Stop(limit[0], limit[1], cancelled or bool)
    others: list[Future[Layout]] = []
    if executor is not None:
        seeds = range(seed + 1, seed + 1 + _workers(executor))
        others = [executor.submit(_alone, problem, limit, other, engine) for other in seeds]
    best = _Best(stop, progress)
    try:
        _run(problem, stop, seed, engine, best.take)
        for future in others:
            best.take_from(future)
    finally:
        for future in others:
            future.cancel()
    assert best.layout is not None
    return best.layout.with_changes(seconds=stop.elapsed)


@dataclass
class _Best:
    """The best layout so far."""

    stop: Stop
    progress: Callable[[Layout], None] | None = None
    layout: Layout | None = None

    def take(self, layout: Layout) -> None:
        """Keep a layout that is better, or as good with a sharper bound."""
        if self.layout is not None and self.layout.better_than(layout):
            return
        judged, better = _judged(layout, self.stop), layout.better_than(self.layout)
        if better or (judged.proven and self.layout is not None and not self.layout.proven):
            self.layout = judged
        if better and self.progress is not None:
            self.progress(judged)

    def take_from(self, future: "Future[Layout]") -> None:
        """Wait for another seed, unless the answer is proven already or the search cancelled."""
        while not (self.layout is not None and self.layout.proven) and not self.stop.cancelled():
            try:
                self.take(future.result(timeout=0.05))
            except TimeoutError:
                continue
            except CancelledError:
                pass
            return


def _workers(executor: Executor) -> int:
    return int(getattr(executor, "_max_workers", 0) or os.cpu_count() or 1)


def _alone(
    problem: Problem, limit: tuple[float | None, float | None], seed: int, engine: str | None
) -> Layout:
    """Search with another seed in a worker."""
    stop = Stop(limit[0], limit[1])
    best = _Best(stop)
    _run(problem, stop, seed, engine, best.take)
    assert best.layout is not None
    return best.layout


def _run(problem: Problem, stop: Stop, seed: int, wanted: str | None, take: Callable[[Layout], None]) -> None:
    """Ask the engines in turn; those still to come share the time that is left equally."""
    engines, why = _chosen(problem, wanted)

    def report(layout: Layout) -> None:
        take(layout.with_changes(explanation=why))

    for n, engine in enumerate(engines):
        part = stop.part(1 / (len(engines) - n))
        layout = engine.pack(problem, part, seed, report)
        stop.spend(part.spent)
        report(layout)
        if _judged(layout, stop).proven or stop.reached:
            break


def _judged(layout: Layout, stop: Stop) -> Layout:
    """Give a layout the better of the general bound and what its engine proved."""
    bound = bounds.bound_for(layout)
    sharper = layout.bound < bound.value if layout.unplaced else layout.bound > bound.value
    if layout.bound_reason and sharper:
        return layout.with_changes(seconds=stop.elapsed)
    return layout.with_changes(bound=bound.value, bound_reason=bound.reason, seconds=stop.elapsed)


def _chosen(problem: Problem, wanted: str | None) -> tuple[list[PackingEngine], str]:
    """Choose engines, and say why: the most special of this package, and all of other packages."""
    if wanted is not None:
        engine: PackingEngine = _plugins.load(GROUP, wanted)
        reason = engine.refusal(problem)
        if reason is not None:
            raise errors.InputError.single(f"{wanted!r} cannot pack this: {reason}", where="engine")
        return [engine], f"{wanted}: asked for by name"
    loaded: list[PackingEngine] = [_plugins.load(GROUP, name) for name in _plugins.names(GROUP)]
    refusals = {engine.name: engine.refusal(problem) for engine in loaded}
    willing = sorted((e for e in loaded if refusals[e.name] is None), key=_rank)
    if not willing:
        reasons = "; ".join(f"{name}: {reason}" for name, reason in refusals.items())
        raise errors.InputError.single(f"no engine can pack this ({reasons})", where="items and sheets")
    special = [engine for engine in willing if engine.name in SPECIAL]
    circles = all(item.footprint.is_circle for item in problem.items) and problem.quantity <= _FEW
    asked = special[:2] if special and special[0].name == "lattice" and circles else special[:1]
    asked += [engine for engine in willing if engine.name not in SPECIAL]
    why = [f"{' then '.join(engine.name for engine in asked)}: the most special for this problem"]
    why += [f"not {name}, for {reason}" for name, reason in refusals.items() if reason]
    return asked, "; ".join(why)


def _rank(engine: PackingEngine) -> int:
    return SPECIAL.index(engine.name) if engine.name in SPECIAL else len(SPECIAL)


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
