"""A plan extended: what is ordered since is put into free pockets of its sheets first, then onto new ones."""

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from nesting.errors import InputError, Problem
from nesting.job.job import Job, KeptSheet, OrderLine
from nesting.kept_sheets import at_hand, kept_names
from nesting.made import lines_made, part_of
from nesting.packing.load_groups import Key, key_of
from nesting.plan import make_plan
from nesting.plan_values import Load, Plan
from nesting.progress import Listener, silent
from nesting.words import listed, pockets_in_words

MOST_LISTED = 20


def extend(
    plan: Plan,
    job: Job,
    *,
    seconds: float | None = None,
    effort: float | None = None,
    seed: int = 1,
    progress: Listener = silent,
    cancelled: Callable[[], bool] = bool,
) -> Plan:
    """Plan what a job orders beyond a plan whose sheets are cut; their free pockets come first.

    With `sheet_use` ``"once"``, in the job or in the plan, pockets that the plan fills are not free.
    Otherwise its sheets are loaded again, at first in the pockets that one of its loads leaves empty.

    Parameters
    ----------
    plan
        The plan to extend; it is not changed, and neither are its loads.
    job
        With the new order lines, and with or without those of the plan. Of a line of the plan, known by
        its name, what the plan does not make is new. Quantities of stock are what is left to be cut.
    seconds, effort, seed, progress, cancelled
        As for `make_plan`.

    Returns
    -------
    A plan of what is new alone. Its job knows the sheets at hand (`Job.kept`) and the units that are made
    already (`Job.made`), so that it can be extended in turn.

    Raises
    ------
    InputError
        If an order line has the name of one in the plan but is another one, if nothing is new, or as
        `make_plan`.
    """
    kept = _at_hand(plan, job)
    made = {line.name: line for line in lines_made(plan)}
    new = extended_job(plan, job)
    extended = make_plan(
        replace(new, kept=kept, kept_first=True),
        seconds=seconds,
        effort=effort,
        seed=seed,
        progress=progress,
        cancelled=cancelled,
    )
    return replace(
        extended,
        job=replace(extended.job, kept=kept, made=tuple(made.values())),
        warnings=(*_already(job, new, made), *_together(plan, extended), *extended.warnings),
    )


def extended_job(plan: Plan, job: Job) -> Job:
    """Give a job without what a plan makes already.

    Raises
    ------
    InputError
        As `extend`.
    """
    made = {line.name: line for line in lines_made(plan)}
    problems = [problem for line in job.orders if (problem := _fault(line, made.get(line.name)))]
    if problems:
        raise InputError(problems)
    orders = tuple(_new(job.orders, made))
    if not orders:
        message = "every unit is in the plan already; add the new orders to the job"
        raise InputError.single(message, where="orders")
    return replace(job, orders=orders)


def _fault(line: OrderLine, made: OrderLine | None) -> Problem | None:
    """Say why an order line cannot be the one in the plan whose name it has."""
    if made is None:
        return None
    keys = ("blank", "artwork", "texts", "customer")
    differ = [key for key in keys if getattr(line, key) != getattr(made, key)]
    if line.name.startswith("row ") and line.source != made.source:
        differ.append("source")
    if differ:
        found = ", ".join(f"{key} {getattr(line, key)!r}, there {getattr(made, key)!r}" for key in differ)
        message = f"another line of this name is in the plan: {found}; give the new one a name of its own"
    elif set(made.numbers) <= set(line.unit_numbers):
        return None
    else:
        message = (
            f"found {line.quantity} units; the plan makes units {listed(made.numbers)} of this line; "
            "leave it as it was, or give a new one a name of its own"
        )
    return Problem("", f"order line {line.name}", message)


def _new(orders: Sequence[OrderLine], made: dict[str, OrderLine]) -> Iterator[OrderLine]:
    """Order what is not made; a line that is new altogether stays as it is."""
    for line in orders:
        if line.name not in made:
            yield line
        elif left := set(line.unit_numbers) - set(made[line.name].numbers):
            yield part_of(line, left)


def _at_hand(plan: Plan, job: Job) -> tuple[KeptSheet, ...]:
    """List the sheets that the extension may load, those of the plan with their free pockets only."""
    once = "once" in (plan.job.sheet_use, job.sheet_use)
    there = {sheet.name: _free(plan, sheet, once=once) for sheet in at_hand(plan)}
    clashing = [stock.name for stock in job.stock if stock.name in there]
    if clashing:
        raise InputError(
            Problem("", f"stock {name}", "a sheet of the plan has this name; give the stock another one")
            for name in clashing
        )
    return (*there.values(), *(sheet for sheet in job.kept if sheet.name not in there))


def _free(plan: Plan, sheet: KeptSheet, *, once: bool) -> KeptSheet:
    """Put pockets that loads of the plan leave empty first; with `once` what they fill is not free."""
    names = kept_names(plan)
    filled = Counter(
        f.pocket for load in plan.loads if names[load.sheet] == sheet.name for f in load.fillings
    )
    pockets = (replace(p, free=p.free and not (once and filled[p.number])) for p in sheet.pockets)
    return replace(sheet, pockets=tuple(sorted(pockets, key=lambda p: (filled[p.number], p.number))))


def _already(job: Job, new: Job, made: dict[str, OrderLine]) -> Iterator[str]:
    """Say which units of the job's order lines are not made here, for they are made already."""
    ordered = {line.name: line for line in new.orders}
    done = [made[line.name] for line in job.orders if line.name in made]
    if done:
        named = "; ".join(f"{line.name}: {listed(line.numbers)}" for line in done[:MOST_LISTED])
        more = f"; and those of {len(done) - MOST_LISTED} more lines" if len(done) > MOST_LISTED else ""
        yield f"units that the earlier plan makes are not made again: {named}{more}"
    for line in done:
        if line.name in ordered:
            yield f"order line {line.name}: units {listed(ordered[line.name].numbers)} are new"


def _together(plan: Plan, extended: Plan) -> Iterator[str]:
    """Name the loads that fill only what a load of the plan, and loads named before, leave empty."""
    filled = {load.number: {filling.pocket for filling in load.fillings} for load in plan.loads}
    for load in extended.loads:
        pockets = {filling.pocket for filling in load.fillings}
        beside = (
            old
            for old in plan.loads
            if not filled[old.number] & pockets and _may_share(plan, old, extended, load)
        )
        old = next(beside, None)
        if old is not None:
            filled[old.number] |= pockets
            yield (
                f"load {load.number} fills {pockets_in_words(pockets)} of sheet {load.sheet}, which load "
                f"{old.number} of the earlier plan leaves empty: if that one is not marked yet, both can lie "
                "there at once"
            )


def _may_share(plan: Plan, old: Load, extended: Plan, load: Load) -> bool:
    """Tell whether a load is on the sheet of one of the plan, and alike in what the job asks for."""
    names = {sheet.name: sheet.stock for sheet in extended.kept}
    there = kept_names(plan)[old.sheet] == names.get(load.sheet)
    return there and _key(plan, old) == _key(extended, load)


def _key(plan: Plan, load: Load) -> Key:
    """Give what the units of a load have in common."""
    order = plan.order(load.fillings[0].unit.line)
    return key_of(plan.job, order, next(blank for blank in plan.job.blanks if blank.name == order.blank))
