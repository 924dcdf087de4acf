"""The mark path of a load: every part of every filling once, one setting after the other."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from nesting.job.job import Machine, MarkSetting
from nesting.packing.stop import Stop
from nesting.plan_values import CutSheet, Filling, Marking, Part, Path, Pocket, Step
from nesting.routing.route import find_route
from nesting.routing.shapes import Block, Line, Place, Point, Run, Shape, measure


@dataclass(frozen=True)
class _Mark:
    """A part on the bed: its pocket's number, its index in the marking, its setting and its shape."""

    pocket: int
    part: int
    setting: str
    shape: Shape


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
    way. With several passes a part is repeated at once, the return move counted in the time only.

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
    marks = [
        mark
        for filling in sorted(fillings, key=lambda filling: filling.pocket)
        if filling.marking is not None
        for mark in _marks(pockets[filling.pocket], markings[filling.marking], settings(filling.marking))
    ]
    shapes = [mark.shape for mark in marks]
    runs = _ordered(marks, machine, start, stop, seed)
    found = measure(shapes, runs, start, machine)
    numbered = measure(shapes, [Run(k) for k in range(len(marks))], start, machine)
    steps = tuple(
        Step(marks[run.shape].pocket, marks[run.shape].part, run.start, run.backwards) for run in runs
    )
    return Path(steps, found.travel, numbered.travel, found.beam, found.seconds, numbered.seconds)


def _marks(pocket: Pocket, marking: Marking, setting: MarkSetting) -> Iterator[_Mark]:
    place = (pocket.x, pocket.y, pocket.turn)
    for k, part in enumerate(marking.parts):
        yield _Mark(pocket.number, k, setting.name, _shape(part, setting, place))


def _shape(part: Part, setting: MarkSetting, place: Place) -> Shape:
    if part.kind == "line":
        return Line(part.contours[0], setting.speed, setting.passes, place)
    # an area too small for a sweep is left where it begins
    x, y, _ = part.contours[0].vertices[0]
    return Block(part.sweeps or ((x, y, x, y),), setting.speed, setting.passes, place)


def _ordered(marks: Sequence[_Mark], machine: Machine, start: Point, stop: Stop, seed: int) -> list[Run]:
    """Order the marks of one setting after the other, each from where the last one ends."""
    groups: dict[str, list[int]] = {}
    for k, mark in enumerate(marks):
        groups.setdefault(mark.setting, []).append(k)
    runs: list[Run] = []
    for group in groups.values():
        part = stop.part(len(group) / (len(marks) - len(runs)))
        shapes = [marks[k].shape for k in group]
        route = find_route(shapes, machine, start, part, seed)
        stop.spend(part.spent)
        runs += [replace(run, shape=group[run.shape]) for run in route.runs]
        x, y = shapes[route.runs[-1].shape].ends(route.runs[-1])[1]
        start = (float(x), float(y))
    return runs
