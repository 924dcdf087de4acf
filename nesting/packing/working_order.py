"""In which order loads are done and which unit lies where: what is due first is marked first."""

from collections import Counter, deque
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from nesting.job.job import Job, OrderLine
from nesting.packing.load_groups import Claim, Group, key_of
from nesting.packing.sheet_plan import AssignedLoad, LoadPlan, PlacedSheet, SheetPlan
from nesting.plan_values import Pocket, Unit


def in_turn(job: Job) -> list[OrderLine]:
    """Order lines by due date, then priority, then artwork and blank, each as it first stands in the job.

    What is neither due nor wanted earlier than other lines waits for those with its artwork, so that as
    few loads as possible have several.
    """
    first: dict[tuple[str, ...], int] = {}
    for place, line in enumerate(job.orders):
        first.setdefault(line.artworks, place)
    return sorted(job.orders, key=lambda line: (line.due or date.max, line.priority, first[line.artworks]))


def units_in_turn(job: Job) -> dict[Claim, list[tuple[int, Unit]]]:
    """List the units of each claim as their turn comes, each with its turn.

    Units of one order line have one turn; spares come after all that is ordered.
    """
    blanks = {blank.name: blank for blank in job.blanks}
    lines = in_turn(job)
    waiting: dict[Claim, list[tuple[int, Unit]]] = {}
    for spare in (False, True):
        for place, line in enumerate(lines):
            ordered = line.quantity - line.spares
            numbers = line.unit_numbers[ordered:] if spare else line.unit_numbers[:ordered]
            claim = (line.blank, key_of(job, line, blanks[line.blank]))
            turn = place + len(lines) * spare
            waiting.setdefault(claim, []).extend((turn, Unit(line.name, number)) for number in numbers)
    return waiting


def left_out(job: Job, placed: Mapping[Claim, int]) -> tuple[tuple[str, int], ...]:
    """Count units that are not placed, by order line; those whose turn comes last lose first."""
    short = Counter(
        unit.line for claim, units in units_in_turn(job).items() for _, unit in units[placed.get(claim, 0) :]
    )
    return tuple((line.name, short[line.name]) for line in job.orders if short[line.name])


@dataclass
class _Waiting:
    """Turns at which units of each claim come, and how many of them are loaded."""

    turns: dict[Claim, list[int]]
    done: Counter[Claim]

    def next(self, claim: Claim) -> int | None:
        """Give the turn of the next unit of a claim; None if all are loaded."""
        turns = self.turns.get(claim, [])
        return turns[self.done[claim]] if self.done[claim] < len(turns) else None


def ordered_loads(
    job: Job,
    groups: Sequence[Group],
    sheets: Sequence[PlacedSheet],
    often: Sequence[Sequence[int]],
) -> tuple[LoadPlan, ...]:
    """Fill the loads one after the other.

    The load with the unit whose turn comes first is next; among equals the sheet and then the focus
    height stay what they are.

    Parameters
    ----------
    often
        How often each sheet is loaded with each group.
    """
    waiting = _waiting(job)
    free = [Counter(sheet.pockets) for sheet in sheets]
    left = {(s, g): n for s, row in enumerate(often) for g, n in enumerate(row) if n}
    loads: list[LoadPlan] = []
    while left:
        s, g = min(left, key=lambda sg: _urgency(waiting, groups[sg[1]], sheets[sg[0]], sg[0], loads))
        left[s, g] -= 1
        if not left[s, g]:
            del left[s, g]
        counts = []
        for claim in groups[g].claims:
            n = min(free[s][claim[0]], len(waiting.turns.get(claim, ())) - waiting.done[claim])
            if n > 0:
                free[s][claim[0]] -= n if job.sheet_use == "once" else 0
                waiting.done[claim] += n
                counts.append((claim[0], n))
        if counts:
            heights = groups[g].heights([blank for blank, _ in counts])
            focus = min(heights.values())
            loads.append(LoadPlan(s, focus, tuple(counts), groups[g].key, tuple(heights.items())))
    return tuple(loads)


def assign_units(job: Job, plan: SheetPlan, pockets: Sequence[Sequence[Pocket]]) -> tuple[AssignedLoad, ...]:
    """Say which unit lies in which pocket of each load.

    Which units are in a load follows from their turn. Within it pockets of a kind are interchangeable:
    units with the same artwork lie in pockets that follow each other, those of a line together.

    Parameters
    ----------
    pockets
        The pockets of each sheet of the plan; the first ones are filled first.
    """
    artworks = {line.name: line.artwork or "" for line in job.orders}
    places = {line.name: k for k, line in enumerate(in_turn(job))}
    waiting = {claim: deque(unit for _, unit in units) for claim, units in units_in_turn(job).items()}
    used: set[tuple[int, int]] = set()
    assigned = []
    for load in plan.loads:
        units: list[tuple[int, Unit]] = []
        for name, count in load.counts:
            free = [
                p.number
                for p in pockets[load.sheet]
                if p.blank == name and (load.sheet, p.number) not in used
            ]
            numbers = sorted(free[:count])
            if job.sheet_use == "once":
                used |= {(load.sheet, number) for number in numbers}
            here = [waiting[name, load.key].popleft() for _ in range(count)]
            first: dict[str, int] = {}
            for unit in here:
                first.setdefault(artworks[unit.line], places[unit.line])
            here.sort(key=lambda u: (first[artworks[u.line]], artworks[u.line], places[u.line], u.number))
            units += zip(numbers, here, strict=True)
        units.sort(key=lambda u: u[0])
        assigned.append(AssignedLoad(load.sheet, load.focus_height, tuple(units), load.heights))
    return tuple(assigned)


def in_order_of_use(
    sheets: Sequence[PlacedSheet], loads: Sequence[LoadPlan]
) -> tuple[tuple[PlacedSheet, ...], tuple[LoadPlan, ...]]:
    """Put sheets in the order in which they are first loaded; those that never are fall away."""
    order = list(dict.fromkeys(load.sheet for load in loads))
    return (
        tuple(
            replace(sheets[k], placements=tuple(replace(p, sheet=new) for p in sheets[k].placements))
            for new, k in enumerate(order)
        ),
        tuple(replace(load, sheet=order.index(load.sheet)) for load in loads),
    )


def _waiting(job: Job) -> _Waiting:
    turns = {claim: [turn for turn, _ in units] for claim, units in units_in_turn(job).items()}
    return _Waiting(turns, Counter())


def _urgency(
    waiting: _Waiting, group: Group, sheet: PlacedSheet, index: int, loads: Sequence[LoadPlan]
) -> tuple[float, bool, bool]:
    turns = [waiting.next(claim) for claim in group.claims if sheet.pockets[claim[0]]]
    known = [turn for turn in turns if turn is not None]
    last = loads[-1] if loads else None
    return (
        min(known, default=float("inf")),
        last is not None and last.sheet != index,
        last is not None and last.focus_height != group.stages[0][0],
    )
