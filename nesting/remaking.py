"""Spoiled units made again: loads for them on the sheets that are there, each unit in its old pocket."""

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from nesting import __version__
from nesting.fixture.focus import refocused
from nesting.job.job import Blank, Job, Machine, OrderLine
from nesting.kept_sheets import at_hand
from nesting.made import lines_made, part_of
from nesting.packing.load_groups import Key, key_of, load_groups
from nesting.packing.stop import Stop
from nesting.packing.working_order import in_turn
from nesting.plan import NO_PATH, home
from nesting.plan_values import CutSheet, Filling, Load, Plan, Unit
from nesting.progress import Listener, Progress, silent
from nesting.routing.mark import mark_path
from nesting.routing.trace import marks_trace
from nesting.unit_names import find_units
from nesting.warn import warnings_for
from nesting.words import counted, listed

AGAIN = ": made again"

_EDGE_MM = 1e-9


def remake(
    plan: Plan,
    units: Iterable[str | Unit],
    *,
    seconds: float | None = None,
    effort: float | None = None,
    seed: int = 1,
    progress: Listener = silent,
    cancelled: Callable[[], bool] = bool,
) -> Plan:
    """Plan loads that make spoiled units again: same sheet, same pocket, same artwork and texts.

    Nothing is cut, and no plan does with fewer loads. The order of marks is searched anew.

    Parameters
    ----------
    plan
        The plan that the units were made by; it is not changed.
    units
        The spoiled units, or their names; see `nesting.unit_names.find_units`.
    seconds, effort, seed, progress, cancelled
        As for `make_plan`; 10 seconds if neither limit is given.

    Returns
    -------
    A plan of its own: its job orders just these units, under their old numbers, and its sheets are those
    of `plan` that it loads, kept.

    Raises
    ------
    InputError
        With every name that is no name of a placed unit.
    """
    spoiled = find_units(plan, units)
    stop = Stop(10.0 if seconds is None and effort is None else seconds, effort, cancelled)
    title = plan.job.title.removesuffix(AGAIN) + AGAIN
    job = replace(plan.job, title=title, orders=tuple(_orders(plan.job, spoiled)))
    shares = _shares(plan, job, spoiled)
    sheets = {sheet.name: _as_it_is(sheet, sheet.name) for sheet in plan.sheets}
    sheets |= {sheet.name: _as_it_is(sheet, sheet.stock) for sheet in plan.kept}
    loads = []
    for number, share in enumerate(shares, start=1):
        progress(Progress(f"ordering the marks of load {number}", (number - 1) / len(shares)))
        part = stop.part(1 / (len(shares) - number + 1))
        loads.append(_load(number, share, plan, sheets[share.sheet], part, seed))
        stop.spend(part.spent)
    used = {share.sheet for share in shares}
    there = tuple(sheet for sheet in sheets.values() if sheet.name in used)
    named = {filling.marking for load in loads for filling in load.fillings}
    markings = tuple(marking for marking in plan.markings if marking.name in named)
    names = {sheet.stock for sheet in there}
    kept = tuple(sheet for sheet in at_hand(plan) if sheet.name in names)
    job = replace(job, kept=kept, made=lines_made(plan))
    return Plan(
        job=job,
        sheets=(),
        loads=tuple(loads),
        markings=markings,
        unplaced=(),
        bound=0,
        proven=True,
        bound_reason="every unit has its pocket on a sheet that is there",
        explanation=_explained(plan, shares),
        warnings=(*_spares_left(plan, spoiled), *warnings_for(job, (), loads, markings, there)),
        seed=seed,
        made_by=f"nesting-optimiser {__version__}",
        kept=there,
        loads_bound=len(loads) if job.machine.refocus is None else 0,
        loads_reason="a pocket takes one unit a load, and what a load holds must be in focus and alike",
    )


@dataclass(frozen=True)
class _Share:
    """What is marked in one go: the fillings of a load on a sheet, and the first focus height."""

    sheet: str
    focus_height: float
    fillings: tuple[Filling, ...]


Window = tuple[float, float]
"""Lowest and highest height that suits a blank: of the focus, or of the lowest blank beside it."""


def fewest_heights(wanted: Mapping[int, tuple[Window, int]]) -> list[float]:
    """Choose as few heights as possible so that every pocket gets as many loads as it needs.

    Each height is a load, in which a pocket takes part if the height is in its window. Taken in the order
    of their upper ends, pockets that lack loads get them at that very end, where most of the others take
    part too. No choice does with fewer: the same argument as for the fewest points that hit intervals
    (Cormen et al., Introduction to Algorithms, exercises on greedy choice; from memory).

    Parameters
    ----------
    wanted
        By pocket, its window and the number of loads it needs.

    Examples
    --------
    >>> fewest_heights({1: ((3, 5), 2), 2: ((4, 6), 1), 3: ((5.5, 7), 1)})
    [5, 5, 7]
    """
    heights: list[float] = []
    for (low, high), count in sorted(wanted.values(), key=lambda one: one[0][1]):
        there = sum(low - _EDGE_MM <= height <= high + _EDGE_MM for height in heights)
        heights += [high] * (count - there)
    return heights


def _orders(job: Job, spoiled: Sequence[Unit]) -> Iterator[OrderLine]:
    """Order the spoiled units alone."""
    for order in job.orders:
        again = {unit.number for unit in spoiled if unit.line == order.name}
        if again:
            yield part_of(order, again)


def _shares(plan: Plan, job: Job, spoiled: Sequence[Unit]) -> list[_Share]:
    """Divide units among loads: of each sheet and key as few as possible, what is due first in the first."""
    places = {line.name: place for place, line in enumerate(in_turn(job))}
    wanted = set(spoiled)
    blanks = {blank.name: blank for blank in job.blanks}
    orders = {order.name: order for order in job.orders}
    apart: defaultdict[tuple[str, Key], list[Filling]] = defaultdict(list)
    for load in plan.loads:
        for filling in load.fillings:
            if filling.unit in wanted:
                order = orders[filling.unit.line]
                apart[load.sheet, key_of(job, order, blanks[order.blank])].append(filling)
    kinds = {order.name: blanks[order.blank] for order in job.orders}
    shares = []
    for (sheet, key), fillings in apart.items():
        fillings.sort(key=lambda f: (places[f.unit.line], f.unit.number))
        shares += [
            _focused(job, sheet, key, share, kinds) for share in _divided(fillings, kinds, job.machine)
        ]
    sheets = [sheet.name for sheet in plan.all_sheets]
    return sorted(
        shares,
        key=lambda s: (min(places[f.unit.line] for f in s.fillings), sheets.index(s.sheet), s.focus_height),
    )


def _divided(
    fillings: Sequence[Filling], kinds: Mapping[str, Blank], machine: Machine
) -> Iterator[tuple[Filling, ...]]:
    """Divide fillings of one sheet, in turn, among as few loads as possible."""
    counts = Counter(filling.pocket for filling in fillings)
    windows, heights = min(
        (
            (windows, fewest_heights({f.pocket: (windows[f.unit.line], counts[f.pocket]) for f in fillings}))
            for windows in _windows(kinds, machine)
        ),
        key=lambda found: len(found[1]),
    )
    left = list(fillings)
    for height in heights:
        share: dict[int, Filling] = {}
        for filling in left:
            low, high = windows[filling.unit.line]
            if low - _EDGE_MM <= height <= high + _EDGE_MM:
                share.setdefault(filling.pocket, filling)
        left = [filling for filling in left if share.get(filling.pocket) is not filling]
        yield tuple(share[pocket] for pocket in sorted(share))


def _windows(kinds: Mapping[str, Blank], machine: Machine) -> Iterator[dict[str, Window]]:
    """Give for each order line's blank between which heights it shares loads: in focus, or by refocusing."""
    yield {name: blank.focus_window(machine) for name, blank in kinds.items()}
    if machine.refocus is not None:
        yield {name: (blank.height - machine.refocus.range, blank.height) for name, blank in kinds.items()}


def _focused(
    job: Job, sheet: str, key: Key, fillings: Sequence[Filling], kinds: Mapping[str, Blank]
) -> _Share:
    """Give each unit of a load its focus height."""
    names = dict.fromkeys(kinds[filling.unit.line].name for filling in fillings)
    groups = load_groups(job, [(name, key) for name in names])
    heights = next(group for group in groups if set(names) <= set(group.blanks)).heights(names)
    lowest = min(heights.values())
    above = {name: None if height == lowest else height for name, height in heights.items()}
    return _Share(
        sheet,
        lowest,
        tuple(replace(f, focus_height=above[kinds[f.unit.line].name]) for f in fillings),
    )


def _load(number: int, share: _Share, plan: Plan, sheet: CutSheet, stop: Stop, seed: int) -> Load:
    job, markings = plan.job, {marking.name: marking for marking in plan.markings}
    stock = job.all_stock[plan.sheet(sheet.name).stock]
    settings = {setting.name: setting for setting in job.settings}
    setting_of = {blank.name: settings[blank.setting] for blank in job.blanks}
    start = home(job.machine, stock.width, stock.height)
    path = mark_path(
        share.fillings,
        sheet,
        markings,
        lambda marking: setting_of[markings[marking].blank],
        job.machine,
        start=start,
        stop=stop,
        seed=seed,
    )
    pockets = {pocket.number: pocket for pocket in sheet.pockets}
    trace = marks_trace(share.fillings, pockets, markings, job.machine, start)
    height = refocused(job, share.focus_height, share.fillings, markings)
    return Load(number, sheet.name, height, share.fillings, path, trace)


def _as_it_is(sheet: CutSheet, kept_as: str) -> CutSheet:
    """Give a sheet as one that is kept under a name: with all its pockets and nothing to cut."""
    pockets = tuple(replace(pocket, path=()) for pocket in sheet.pockets)
    return CutSheet(sheet.name, kept_as, pockets, NO_PATH, sheet.fill, trace=sheet.trace)


def _explained(plan: Plan, shares: Sequence[_Share]) -> str:
    made = counted(sum(len(share.fillings) for share in shares), "unit")
    return (
        f"{made} of the plan {plan.job.title!r} made again, each in its old pocket; "
        f"loads: {len(shares)}, and fewer cannot hold them: a pocket takes one unit a load, and what a load "
        "holds is in focus together and alike in what the job asks for"
    )


def _spares_left(plan: Plan, spoiled: Sequence[Unit]) -> Iterator[str]:
    """Say where spares that were made could stand in for what is made again."""
    gone = set(spoiled)
    for order in plan.job.orders:
        spares = order.unit_numbers[order.quantity - order.spares :]
        left = [number for number in spares if Unit(order.name, number) not in gone]
        lost = [u.number for u in spoiled if u.line == order.name and u.number not in spares]
        if left and lost:
            noun = "unit" if len(left) == 1 else "units"
            yield (
                f"order line {order.name}: spares were made, {noun} {listed(left)}; each good one can "
                "stand in for one that is made again here"
            )
