"""The cut path of a sheet: every contour once, inner ones before what contains them, thin webs last."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from shapely import Point as ShapelyPoint

from nesting.geometry.contour import Contour
from nesting.geometry.region import Region
from nesting.job.job import Machine
from nesting.motion.moves import move_times, travel_time
from nesting.motion.time import contour_time
from nesting.packing.stop import Stop
from nesting.plan_values import Path, Pocket, Step, Times
from nesting.routing.bound import tree_bound
from nesting.routing.choose import choose_ways
from nesting.routing.cut_task import CutTask
from nesting.routing.entries import ENTRIES, Spot, split, spots, spots_near
from nesting.routing.heat import Cuts, Spread, spread_heat
from nesting.routing.leads import with_lead
from nesting.routing.route import MOST_WAYS, find_route
from nesting.routing.shapes import Line, Point, Run, measure
from nesting.routing.strokes import Ints, make_strokes

OUTLINE = 0
"""The number that stands for a pocket's in the steps that cut out the sheet itself."""

Key = tuple[int, int]
"""Pocket number and index of the part."""

BOUND_WORK = 10_000
"""Rounds of the bound times contours."""


@dataclass(frozen=True)
class Cut:
    """A cut path, and the contours that it cuts, with a vertex wherever a cut begins."""

    pockets: tuple[Pocket, ...]
    path: Path
    outline: tuple[Contour, ...] = ()


def cut_path(
    pockets: Sequence[Pocket],
    machine: Machine,
    *,
    sheet: Region | None = None,
    outline: Sequence[Contour] = (),
    start: Point = (0.0, 0.0),
    stop: Stop,
    seed: int = 1,
) -> Cut:
    """Order the contours of pockets and choose where each cut begins, so that it takes little time.

    A contour that lies inside another one, of the same pocket or of another, is cut first: what is
    freed is never cut again. Contours that leave a web thinner than the machine's `thin_web` come after
    all others, the sheet's own outline after them (common practice, no source). A cut begins anywhere
    on a contour, away from thin webs where it can, with the machine's `lead_in` from the waste where
    there is room. For `heat_time` after a cut nothing within `heat_distance` of it is cut; the head
    waits where that cannot be helped.

    Parameters
    ----------
    sheet
        What the pockets are cut into, for the webs to its edge.
    outline
        Paths of the beam that cut out the sheet itself.
    start
        The corner of the sheet where the beam waits, mm.
    stop
        When to end the search.
    seed
        For the search.

    Examples
    --------
    >>> from nesting.geometry.region import Region
    >>> washer = Region(Contour.circle(30), (Contour.circle(10),)).moved(20, 20)
    >>> pocket = Pocket(1, "washer", 20, 20, 0, washer, washer.contours)
    >>> cut = cut_path([pocket], Machine(600, 400), stop=Stop(effort=1))
    >>> [step.part for step in cut.path.steps]
    [0, 1]
    """
    keys = [(pocket.number, k) for pocket in pockets for k in range(len(pocket.path))]
    contours = [contour for pocket in pockets for contour in pocket.path]
    keys += [(OUTLINE, k) for k in range(len(outline))]
    contours += outline
    if not contours:
        return Cut(tuple(pockets), Path((), 0.0, 0.0, 0.0, 0.0, 0.0))
    task = CutTask(contours, len(contours) - len(outline), machine, sheet, start)
    part = stop.part(0.6 if task.heated else 1.0)
    order = _ordered(task, part, seed)
    stop.spend(part.spent)
    for share in (1 / ENTRIES, 1 / (8 * ENTRIES)):
        order = _refined(task, order, share)
    begun = [_begun(task, choice) for choice in sorted(order, key=lambda choice: choice.contour)]
    cuts = _cuts(task, begun)
    heat = stop if task.heated else Stop(effort=0)
    spread = spread_heat(cuts, [choice.contour for choice in order], start, machine, heat, seed)
    shapes = {key: cut.shape for key, cut in zip(keys, begun, strict=True)}
    return Cut(
        tuple(
            replace(pocket, path=tuple(shapes[pocket.number, k] for k in range(len(pocket.path))))
            for pocket in pockets
        ),
        _path(task, keys, begun, cuts, spread),
        tuple(shapes[OUTLINE, k] for k in range(len(outline))),
    )


def numbered_seconds(
    pockets: Sequence[Pocket], outline: Sequence[Contour], machine: Machine, start: Point
) -> float:
    """Time to cut pockets in the order of their numbers, each contour as drawn."""
    contours = [contour for pocket in pockets for contour in pocket.path]
    lines = [Line(contour, machine.cut_speed, dwell=machine.cut_dwell) for contour in [*contours, *outline]]
    return measure(lines, [Run(k) for k in range(len(lines))], start, machine).seconds


@dataclass(frozen=True)
class _Begun:
    """A contour with a vertex where its cut begins."""

    shape: Contour
    start: int
    backwards: bool
    lead: Point | None

    @property
    def run(self) -> Contour:
        """What the beam runs."""
        run = with_lead(self.shape, self.start, self.lead)
        return run.reversed() if self.backwards else run

    @property
    def ends(self) -> tuple[Point, Point]:
        """Where the beam goes on and off."""
        run = self.run
        return run.vertices[0][:2], run.vertices[0 if run.closed else -1][:2]


@dataclass(frozen=True)
class _Offer:
    """Places where the cut of a contour may begin, and the contour with vertices there; none if open."""

    contour: int
    places: list[Spot]
    shape: Contour
    index: list[int]

    @classmethod
    def of(cls, task: CutTask, contour: int, places: list[Spot]) -> "_Offer":
        shape = task.contours[contour]
        if not shape.closed:
            return cls(contour, [], shape, [])
        places = task.allowed(contour, sorted(places))
        return cls(contour, places, *split(shape, places))


@dataclass(frozen=True)
class _Choice:
    """A contour to be cut next: the place where a closed one begins, the way an open one is run."""

    contour: int
    place: Spot | None
    backwards: bool


def _ordered(task: CutTask, stop: Stop, seed: int) -> list[_Choice]:
    """Order contours, phase by phase, and choose about where each begins."""
    found: list[_Choice] = []
    here = task.start
    for phase in sorted(set(task.phase)):
        members = [k for k, p in enumerate(task.phase) if p == phase]
        most = max(4, min(ENTRIES, MOST_WAYS // len(members)))
        offers = [_Offer.of(task, k, _thinned(spots(task.contours[k]), most)) for k in members]
        numbers = {k: turn for turn, k in enumerate(members)}
        before = [(numbers[a], numbers[b]) for a, b in task.before if a in numbers and b in numbers]
        part = stop.part(len(members) / (len(task.contours) - len(found)))
        lines = [Line(offer.shape, task.machine.cut_speed) for offer in offers]
        route = find_route(lines, task.machine, here, part, seed, before, starts=_starts(offers))
        stop.spend(part.spent)
        found += [_choice(offers[run.shape], run.start, run.backwards) for run in route.runs]
        x, y = lines[route.runs[-1].shape].ends(route.runs[-1])[1]
        here = (float(x), float(y))
    return found


def _thinned(places: list[Spot], most: int) -> list[Spot]:
    """Keep no more places than `most`, spread over all of them."""
    count = min(most, len(places))
    return [places[k * len(places) // count] for k in range(count)]


def _starts(offers: Sequence[_Offer]) -> dict[int, Ints]:
    return {turn: np.array(offer.index) for turn, offer in enumerate(offers) if offer.index}


def _choice(offer: _Offer, start: int, backwards: bool) -> _Choice:
    place = offer.places[offer.index.index(start)] if offer.index else None
    return _Choice(offer.contour, place, backwards)


def _refined(task: CutTask, order: Sequence[_Choice], share: float) -> list[_Choice]:
    """Choose where the cuts begin once more, from places near those chosen, the order kept."""
    offers = [
        _Offer.of(task, c.contour, spots_near(task.contours[c.contour], c.place, share) if c.place else [])
        for c in order
    ]
    lines = [Line(offer.shape, task.machine.cut_speed) for offer in offers]
    strokes = make_strokes(lines, task.machine, 2, _starts(offers))
    ways = choose_ways(strokes, np.arange(len(offers)), task.start)
    chosen = zip(offers, strokes.start[ways].tolist(), strokes.backwards[ways].tolist(), strict=True)
    return [_choice(offer, start, backwards) for offer, start, backwards in chosen]


def _begun(task: CutTask, choice: _Choice) -> _Begun:
    """Put a vertex where a cut begins, and a lead-in before it."""
    contour = task.contours[choice.contour]
    if choice.place is None:
        return _Begun(contour, 0, choice.backwards, None)
    shape, (start,) = split(contour, [choice.place])
    lead = (
        task.waste(choice.contour, shape).lead(start, task.machine.lead_in) if task.machine.lead_in else None
    )
    return _Begun(shape, start, backwards=False, lead=lead)


def _cuts(task: CutTask, begun: Sequence[_Begun]) -> Cuts:
    """Gather what spreading heat must know, contour by contour."""
    machine = task.machine
    ends = np.array([cut.ends for cut in begun])
    seconds = [machine.cut_dwell + contour_time(c.run, machine.cut_speed, machine.kinematics) for c in begun]
    return Cuts(ends[:, 0], ends[:, 1], np.array(seconds), task.near, task.phase, tuple(task.before))


def _path(task: CutTask, keys: Sequence[Key], begun: Sequence[_Begun], cuts: Cuts, spread: Spread) -> Path:
    machine, order = task.machine, np.array(spread.order)
    hops = cuts.entry[order] - np.vstack([[task.start], cuts.leave[order[:-1]]])
    distances = np.hypot(hops[:, 0], hops[:, 1])
    travelling = float(move_times(hops, machine.travel_speed, machine.kinematics).sum())
    steps = tuple(
        Step(*keys[k], begun[k].start, begun[k].backwards, lead=begun[k].lead, wait=wait)
        for k, wait in zip(spread.order, spread.waits, strict=True)
    )
    lines = [Line(contour, machine.cut_speed, dwell=machine.cut_dwell) for contour in task.contours]
    as_numbered = sorted(range(len(keys)), key=lambda k: (keys[k][0] == OUTLINE, keys[k]))
    numbered = measure(lines, [Run(k) for k in as_numbered], task.start, machine)
    times = Times(cut=float(cuts.seconds.sum()), travel=travelling, wait=math.fsum(spread.waits))
    return Path(
        steps,
        float(distances.sum()),
        numbered.travel,
        math.fsum(cut.run.length for cut in begun),
        times.total,
        numbered.seconds,
        times,
        min(_bound(task, travelling), times.total),
    )


def _bound(task: CutTask, reached: float) -> float:
    """Give what no order takes less than: cutting at full speed, and a tree of the shortest moves."""
    machine, count = task.machine, len(task.contours)
    gaps = np.zeros((count + 1, count + 1))
    gaps[1:, 1:] = task.gaps[:, :count]
    gaps[0, 1:] = gaps[1:, 0] = [ShapelyPoint(task.start).distance(line) for line in task.lines]
    # a lead-in begins beside its contour
    legs = travel_time(np.maximum(gaps - machine.lead_in, 0), *machine.kinematics.most(machine.travel_speed))
    cutting = math.fsum(contour.length for contour in task.contours) / machine.cut_speed
    return cutting + count * machine.cut_dwell + tree_bound(legs, reached, BOUND_WORK // (count + 1))
