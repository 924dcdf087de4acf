"""The mark path of a load: every part of every filling once, one setting after the other."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import accumulate, islice

from nesting.job.job import Machine, MarkSetting
from nesting.packing.stop import Stop
from nesting.plan_values import CutSheet, Filling, Marking, Part, Path, Pocket, Step
from nesting.routing.legs import Order
from nesting.routing.route import find_route
from nesting.routing.shapes import Block, Line, Place, Point, Run, Shape, measure
from nesting.routing.units import UnitShapes, route_by_units

UNITS_SHARE = 0.25
"""Share of the search that goes unit by unit."""


@dataclass(frozen=True)
class _Marks:
    """What is marked on one unit: its pocket's number, its setting and its parts as shapes."""

    pocket: int
    setting: str
    unit: UnitShapes


def mark_path(
    fillings: Sequence[Filling],
    sheet: CutSheet,
    markings: Mapping[str, Marking],
    speed_of: Callable[[str], MarkSetting] | Mapping[str, MarkSetting],
    machine: Machine,
    *,
    start: Point = (0.0, 0.0),
    stop: Stop,
    seed: int = 1,
) -> Path:
    """Order the parts of all markings of a load so that marking them takes little time.

    Parts with one setting are marked before those with the next, in the order in which the settings
    first appear. A closed line starts at any of its vertices, an open line and a fill are run either
    way. A line round a fill is marked after it, so that it covers the ends of the sweeps (common practice,
    no source). With several passes a part is repeated at once, the return move counted in the time only.

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
    settings = speed_of if callable(speed_of) else speed_of.__getitem__
    pockets = {pocket.number: pocket for pocket in sheet.pockets}
    before = {name: _fills_first(marking.parts) for name, marking in markings.items()}
    marks = [
        _marks(
            pockets[filling.pocket],
            markings[filling.marking],
            settings(filling.marking),
            before[filling.marking],
        )
        for filling in sorted(fillings, key=lambda filling: filling.pocket)
        if filling.marking is not None and markings[filling.marking].parts
    ]
    shapes = [shape for mark in marks for shape in mark.unit.shapes]
    parts = [(mark.pocket, k) for mark in marks for k in range(len(mark.unit.shapes))]
    runs = _ordered(marks, machine, start, stop, seed)
    found = measure(shapes, runs, start, machine)
    numbered = measure(shapes, [Run(k) for k in range(len(shapes))], start, machine)
    steps = tuple(Step(*parts[run.shape], run.start, run.backwards) for run in runs)
    return Path(steps, found.travel, numbered.travel, found.beam, found.seconds, numbered.seconds)


def _marks(pocket: Pocket, marking: Marking, setting: MarkSetting, before: tuple[Order, ...]) -> _Marks:
    place = (pocket.x, pocket.y, pocket.turn)
    shapes = tuple(_shape(part, setting, place) for part in marking.parts)
    return _Marks(pocket.number, setting.name, UnitShapes(marking.name, shapes, before))


def _fills_first(parts: Sequence[Part]) -> tuple[Order, ...]:
    """Pair each fill with the lines round it that are listed after it."""
    return tuple(
        (fill, line)
        for fill, filled in enumerate(parts)
        for line, followed in enumerate(parts[fill + 1 :], fill + 1)
        if filled.kind == "fill" and followed.kind == "line" and followed.contours[0] in filled.contours
    )


def _shape(part: Part, setting: MarkSetting, place: Place) -> Shape:
    if part.kind == "line":
        return Line(part.contours[0], setting.speed, setting.passes, place)
    # an area too small for a sweep is left where it begins
    x, y, _ = part.contours[0].vertices[0]
    return Block(part.sweeps or ((x, y, x, y),), setting.speed, setting.passes, place)


def _ordered(marks: Sequence[_Marks], machine: Machine, start: Point, stop: Stop, seed: int) -> list[Run]:
    """Order the marks of one setting after the other, each from where the last one ends."""
    numbers = iter(range(sum(len(mark.unit.shapes) for mark in marks)))
    groups: dict[str, list[UnitShapes]] = {}
    indices: dict[str, list[int]] = {}
    for mark in marks:
        groups.setdefault(mark.setting, []).append(mark.unit)
        indices.setdefault(mark.setting, []).extend(islice(numbers, len(mark.unit.shapes)))
    runs: list[Run] = []
    left = sum(map(len, indices.values()))
    for setting, units in groups.items():
        index = indices[setting]
        part = stop.part(len(index) / (left - len(runs)))
        route = _group_route(units, machine, start, part, seed)
        stop.spend(part.spent)
        runs += [replace(run, shape=index[run.shape]) for run in route]
        shapes = [shape for unit in units for shape in unit.shapes]
        x, y = shapes[route[-1].shape].ends(route[-1])[1]
        start = (float(x), float(y))
    return runs


def _group_route(
    units: Sequence[UnitShapes], machine: Machine, start: Point, stop: Stop, seed: int
) -> tuple[Run, ...]:
    """Order all shapes of some units, beginning with a route unit by unit."""
    shapes = [shape for unit in units for shape in unit.shapes]
    part = stop.part(UNITS_SHARE)
    by_unit = route_by_units(units, machine, start, part, seed) if 1 < len(units) < len(shapes) else ()
    stop.spend(part.spent)
    firsts = accumulate((len(unit.shapes) for unit in units), initial=0)
    before = [
        (first + a, first + b) for first, unit in zip(firsts, units, strict=False) for a, b in unit.before
    ]
    return find_route(shapes, machine, start, stop, seed, before, by_unit).runs
