"""What the beam runs, stroke by stroke in running order: the one account of it that all writers give."""

from collections.abc import Hashable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

from nesting.geometry.contour import Contour
from nesting.plan_values import CutSheet, Load, Pocket, Step, Trace
from nesting.routing.rows import placed_sweeps, swept_together
from nesting_adapters.plan_lookup import Place, as_run, pockets_cut, swept_lines


@dataclass(frozen=True)
class CutRun:
    """One cut: lead-in, if any, and contour as one line; `wait` seconds pass before the beam goes on."""

    pocket: Pocket
    step: Step
    line: Contour
    wait: float


@dataclass(frozen=True)
class MarkRun:
    """What is marked in one go: a line, or the sweeps of a part or of several parts swept together."""

    steps: tuple[Step, ...]
    places: tuple[Place, ...]

    @property
    def place(self) -> Place:
        """The unit it begins on."""
        return self.places[0]

    @property
    def pockets(self) -> tuple[int, ...]:
        """The pockets of its units, each once."""
        return tuple(dict.fromkeys(step.pocket for step in self.steps))

    @property
    def is_line(self) -> bool:
        """Whether a line is followed; otherwise areas are swept."""
        return self.place.part(self.steps[0]).kind == "line"

    @property
    def sweep_count(self) -> int:
        """How many sweeps its parts have, each by itself."""
        return sum(len(at.part(step).sweeps) for step, at in zip(self.steps, self.places, strict=True))

    @property
    def key(self) -> Hashable:
        """What tells it from other runs of the plan: loads have many in common, which are written alike."""
        return self.place.sheet.name, self.steps, tuple(place.filling.marking for place in self.places)

    @cached_property
    def strokes(self) -> tuple[Contour, ...]:
        """Beam-on stretches on the sheet; with several passes all of them are repeated."""
        return tuple(_strokes(self.steps, self.places))


def traced(trace: Trace) -> tuple[Contour, ...]:
    """Give the line to follow with the beam off, as a contour; none if the plan has none."""
    return (Contour.polyline(trace.points),) if len(trace.points) > 1 else ()


def sheet_mark_lines(sheet: CutSheet) -> Iterator[Contour]:
    """Follow the marks on a sheet itself, which are made before it is cut."""
    for mark in sheet.marks:
        yield from mark.lines


def cut_runs(sheet: CutSheet) -> Iterator[CutRun]:
    """Follow the cut path of a sheet."""
    pockets = pockets_cut(sheet)
    for step in sheet.cut_path.steps:
        pocket = pockets[step.pocket]
        line = as_run(pocket.path[step.part], step)
        yield CutRun(pocket, step, line if step.lead is None else _led_in(line, step.lead), step.wait)


def mark_runs(load: Load, places: Sequence[Place]) -> Iterator[MarkRun]:
    """Follow the mark path of a load whose units lie in `places`."""
    by_pocket = {place.pocket.number: place for place in places}
    group: list[Step] = []
    for step in load.mark_path.steps:
        if group and not step.joined:
            yield _mark_run(group, by_pocket)
            group = []
        group.append(step)
    if group:
        yield _mark_run(group, by_pocket)


def _led_in(line: Contour, lead: tuple[float, float]) -> Contour:
    closing = line.vertices[:1] if line.closed else ()
    vertices = ((*lead, 0.0), *line.vertices, *((x, y, 0.0) for x, y, _ in closing))
    return Contour(vertices, closed=False)


def _mark_run(steps: Sequence[Step], by_pocket: dict[int, Place]) -> MarkRun:
    return MarkRun(tuple(steps), tuple(by_pocket[step.pocket] for step in steps))


def _strokes(steps: Sequence[Step], places: Sequence[Place]) -> list[Contour]:
    first, place = steps[0], places[0]
    part = place.part(first)
    if part.kind == "line":
        return [place.lying(as_run(contour, first)) for contour in part.contours]
    fills = [
        placed_sweeps(at.part(step).sweeps, (at.pocket.x, at.pocket.y, at.pocket.turn))
        for step, at in zip(steps, places, strict=True)
    ]
    sweeps = swept_together(fills) if len(fills) > 1 else fills[0].tolist()
    return swept_lines(sweeps, backwards=first.backwards)
