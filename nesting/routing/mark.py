"""The mark path of a load: every part of every filling once, one setting after the other."""

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import accumulate, islice, pairwise

from nesting.job.job import Machine, MarkSetting
from nesting.packing.stop import Stop
from nesting.plan_values import CutSheet, Filling, Marking, Part, Path, Pocket, Step, Times
from nesting.routing.bound import path_bound
from nesting.routing.legs import Order
from nesting.routing.route import find_route
from nesting.routing.rows import placed_sweeps, rows_of, swept_together
from nesting.routing.shapes import Block, Line, Measure, Place, Point, Run, Shape, measure
from nesting.routing.sharing import Together, share_sweeps
from nesting.routing.strokes import make_strokes
from nesting.routing.units import UnitShapes, route_by_units

SpeedOf = Callable[[str], MarkSetting] | Mapping[str, MarkSetting]

MOST_BOUND = 250
"""Of more shapes the bound counts the running alone, not the moves between them."""

BOUND_WORK = 10_000
"""Rounds of the bound times shapes."""

UNITS_SHARE = 0.25
"""Share of the search that goes unit by unit."""


@dataclass(frozen=True)
class _Marks:
    """What is marked on one unit: its pocket's number, its focus height and setting, its parts as shapes."""

    pocket: int
    stage: tuple[float, str]
    unit: UnitShapes


def mark_path(
    fillings: Sequence[Filling],
    sheet: CutSheet,
    markings: Mapping[str, Marking],
    speed_of: SpeedOf,
    machine: Machine,
    *,
    start: Point = (0.0, 0.0),
    stop: Stop,
    seed: int = 1,
) -> Path:
    """Order the parts of all markings of a load so that marking them takes little time.

    Parts are marked from the lowest focus height up, and at each those with one setting before those
    with the next, in the order in which the settings first appear. A closed line starts at any of its
    vertices, an open line and a fill are run either way. Fills are swept one by one, or those of a whole
    row of units together if that is faster. A line round a fill is marked after it, so that it covers the
    ends of the sweeps (common practice, no source). With several passes a part is repeated at once, the
    return move counted in the time only.

    Parameters
    ----------
    speed_of
        The setting for a marking's name.
    start
        The corner of the sheet where the beam waits, mm.
    stop
        When to end the search.
    seed
        For the search.
    """
    marks = _all_marks(fillings, sheet, markings, speed_of, machine)
    shapes = [shape for mark in marks for shape in mark.unit.shapes]
    parts = [(mark.pocket, k) for mark in marks for k in range(len(mark.unit.shapes))]
    order = _ordered(marks, machine, start, stop, seed)
    found = order.measure(shapes, machine, start)
    numbered = measure(shapes, [Run(k) for k in range(len(shapes))], start, machine)
    heights = [mark.stage[0] for mark in marks for _ in mark.unit.shapes]
    run_heights = [heights[order.sets[run.shape][0]] for run in order.runs]
    waits = [_refocusing(machine, pair) for pair in pairwise([*run_heights[:1], *run_heights])]
    steps = tuple(
        Step(*parts[k], run.start, run.backwards, joined=turn > 0, wait=0.0 if turn else wait)
        for run, wait in zip(order.runs, waits, strict=True)
        for turn, k in enumerate(order.sets[run.shape])
    )
    waiting = math.fsum(waits)
    times = Times(mark=found.lines, sweep=found.blocks, travel=found.moving, wait=waiting)
    bound = min(_bound(order, shapes, found, machine, start), found.seconds) + waiting
    lengths = found.travel, numbered.travel, found.beam
    return Path(steps, *lengths, found.seconds + waiting, numbered.seconds + waiting, times, bound)


def numbered_seconds(
    fillings: Sequence[Filling],
    sheet: CutSheet,
    markings: Mapping[str, Marking],
    speed_of: SpeedOf,
    machine: Machine,
    start: Point = (0.0, 0.0),
) -> float:
    """Time to mark a load in the order of its pockets' numbers, every part by itself and as drawn."""
    marks = _all_marks(fillings, sheet, markings, speed_of, machine)
    shapes = [shape for mark in marks for shape in mark.unit.shapes]
    refocusing = _refocusing(machine, {mark.stage[0] for mark in marks})
    return measure(shapes, [Run(k) for k in range(len(shapes))], start, machine).seconds + refocusing


def _refocusing(machine: Machine, heights: Iterable[float]) -> float:
    """Seconds to focus at heights one after the other."""
    changes = len(set(heights)) - 1
    return machine.refocus.seconds * changes if machine.refocus is not None and changes > 0 else 0.0


def _all_marks(
    fillings: Sequence[Filling],
    sheet: CutSheet,
    markings: Mapping[str, Marking],
    speed_of: SpeedOf,
    machine: Machine,
) -> list[_Marks]:
    settings = speed_of if callable(speed_of) else speed_of.__getitem__
    pockets = {pocket.number: pocket for pocket in sheet.pockets}
    before = {name: _fills_first(marking.parts) for name, marking in markings.items()}
    return [
        _marks(
            pockets[filling.pocket],
            markings[filling.marking],
            (filling.focus_height or 0.0, settings(filling.marking)),
            before[filling.marking],
            machine,
        )
        for filling in sorted(fillings, key=lambda filling: filling.pocket)
        if filling.marking is not None and markings[filling.marking].parts
    ]


@dataclass(frozen=True)
class _Order:
    """Runs of sets of shapes: a shape by itself, or blocks that are swept together."""

    sets: tuple[Together, ...]
    runs: tuple[Run, ...]

    def measure(self, shapes: Sequence[Shape], machine: Machine, start: Point) -> Measure:
        """Measure it from a start on."""
        return measure(_joined(shapes, self.sets), self.runs, start, machine)


def _bound(order: _Order, shapes: Sequence[Shape], found: Measure, machine: Machine, start: Point) -> float:
    """Give what no order of these sets of shapes takes less time than."""
    joined = _joined(shapes, order.sets)
    if not joined:
        return 0.0
    running = math.fsum(float(shape.times(range(max(shape.starts, 1)), machine).min()) for shape in joined)
    if len(joined) > MOST_BOUND:
        return running
    strokes = make_strokes(joined, machine, max(shape.starts for shape in joined) or 1)
    reached = found.seconds - running
    return running + path_bound(strokes, start, reached, BOUND_WORK // len(joined))


def _marks(
    pocket: Pocket,
    marking: Marking,
    stage: tuple[float, MarkSetting],
    before: tuple[Order, ...],
    machine: Machine,
) -> _Marks:
    (height, setting), place = stage, (pocket.x, pocket.y, pocket.turn)
    shapes = tuple(_shape(part, setting, place, machine) for part in marking.parts)
    return _Marks(pocket.number, (height, setting.name), UnitShapes(marking.name, shapes, before))


def _fills_first(parts: Sequence[Part]) -> tuple[Order, ...]:
    """Pair each fill with the lines round it that are listed after it."""
    return tuple(
        (fill, line)
        for fill, filled in enumerate(parts)
        for line, followed in enumerate(parts[fill + 1 :], fill + 1)
        if filled.kind == "fill" and followed.kind == "line" and followed.contours[0] in filled.contours
    )


def _shape(part: Part, setting: MarkSetting, place: Place, machine: Machine) -> Shape:
    if part.kind == "line":
        dwell = machine.beam_on_delay + machine.beam_off_delay
        return Line(part.contours[0], setting.speed, setting.passes, place, dwell)
    # an area too small for a sweep is left where it begins
    x, y, _ = part.contours[0].vertices[0]
    return Block(part.sweeps or ((x, y, x, y),), setting.speed, setting.passes, place)


def _ordered(marks: Sequence[_Marks], machine: Machine, start: Point, stop: Stop, seed: int) -> _Order:
    """Order the marks of one focus height and setting after the other, each from where the last one ends."""
    numbers = iter(range(sum(len(mark.unit.shapes) for mark in marks)))
    groups: dict[tuple[float, str], list[UnitShapes]] = {}
    indices: dict[tuple[float, str], list[int]] = {}
    for mark in marks:
        groups.setdefault(mark.stage, []).append(mark.unit)
        indices.setdefault(mark.stage, []).extend(islice(numbers, len(mark.unit.shapes)))
    sets: list[Together] = []
    runs: list[Run] = []
    left = sum(map(len, indices.values()))
    for stage in sorted(groups, key=lambda stage: stage[0]):
        units, index, first = groups[stage], indices[stage], len(sets)
        part = stop.part(len(index) / left)
        left -= len(index)
        order = _group_order(units, machine, start, part, seed)
        stop.spend(part.spent)
        sets += [tuple(index[k] for k in members) for members in order.sets]
        runs += [replace(run, shape=first + run.shape) for run in order.runs]
        shapes = _joined([shape for unit in units for shape in unit.shapes], order.sets)
        x, y = shapes[order.runs[-1].shape].ends(order.runs[-1])[1]
        start = (float(x), float(y))
    return _Order(tuple(sets), tuple(runs))


def _group_order(
    units: Sequence[UnitShapes], machine: Machine, start: Point, stop: Stop, seed: int
) -> _Order:
    """Order all shapes of some units, rows swept together where that is faster."""
    shapes = [shape for unit in units for shape in unit.shapes]
    alone = tuple((k,) for k in range(len(shapes)))
    sets = _sets(shapes, machine, stop)
    if len(sets) == len(shapes):
        return _alone(units, alone, machine, start, stop, seed)
    joined, of = _joined(shapes, sets), {k: turn for turn, members in enumerate(sets) for k in members}
    before = {(of[a], of[b]) for a, b in _before(units)}
    part = stop.part(0.7)
    together = _Order(sets, find_route(joined, machine, start, part, seed, sorted(before)).runs)
    stop.spend(part.spent)
    seconds = together.measure(shapes, machine, start).seconds
    if sum(float(shape.times((0,), machine)[0]) for shape in shapes) >= seconds:
        # no order of the shapes one by one is faster
        return together
    apart = _alone(units, alone, machine, start, stop, seed)
    return min(together, apart, key=lambda order: order.measure(shapes, machine, start).seconds)


def _alone(
    units: Sequence[UnitShapes],
    alone: tuple[Together, ...],
    machine: Machine,
    start: Point,
    stop: Stop,
    seed: int,
) -> _Order:
    """Order all shapes of some units one by one, beginning with a route unit by unit."""
    shapes = [shape for unit in units for shape in unit.shapes]
    part = stop.part(UNITS_SHARE)
    by_unit = route_by_units(units, machine, start, part, seed) if 1 < len(units) < len(shapes) else ()
    stop.spend(part.spent)
    return _Order(alone, find_route(shapes, machine, start, stop, seed, _before(units), by_unit).runs)


def _before(units: Sequence[UnitShapes]) -> list[Order]:
    """Pair shapes, numbered through all units, of which the first is run earlier."""
    firsts = accumulate((len(unit.shapes) for unit in units), initial=0)
    return [
        (first + a, first + b) for first, unit in zip(firsts, units, strict=False) for a, b in unit.before
    ]


def _sets(shapes: Sequence[Shape], machine: Machine, stop: Stop) -> tuple[Together, ...]:
    """Divide shapes of one setting into those run by themselves and blocks swept together."""
    blocks = [k for k, shape in enumerate(shapes) if isinstance(shape, Block)]
    rows = [rows_of(shape) for shape in shapes if isinstance(shape, Block)]
    found, _, effort = share_sweeps(rows, shapes[0].speed, machine, shapes[0].passes)
    stop.spend(effort)
    sets = [tuple(blocks[k] for k in members) for members in found]
    return tuple(sorted([*sets, *((k,) for k in range(len(shapes)) if k not in set(blocks))]))


def _joined(shapes: Sequence[Shape], sets: Sequence[Together]) -> list[Shape]:
    """Make one block of each set of several blocks."""
    return [
        shapes[members[0]] if len(members) == 1 else _swept([shapes[k] for k in members]) for members in sets
    ]


def _swept(shapes: Sequence[Shape]) -> Block:
    blocks = [shape for shape in shapes if isinstance(shape, Block)]
    fills = [placed_sweeps(block.sweeps, block.place) for block in blocks]
    return Block(swept_together(fills), blocks[0].speed, blocks[0].passes)
