"""The check of paths: every part once, inner before outer, and the lengths stated."""

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import shapely

from nesting.check.distances import length_of
from nesting.check.report import Findings
from nesting.check.solids import chain
from nesting.geometry.contour import Contour
from nesting.job.job import Machine, Stock
from nesting.plan_values import CutSheet, Part, Path, Step

Key = tuple[int, int]
"""Pocket number and index of the part."""

_ROOM_MM = 0.01


@dataclass(frozen=True)
class Stretch:
    """What the beam runs in one step, on the sheet: its vertices as x + iy, and its beam-on length in mm."""

    vertices: tuple[complex, ...]
    closed: bool
    length: float

    def ends(self, step: Step) -> tuple[complex, complex]:
        """Where the beam goes on and off."""
        if self.closed:
            return self.vertices[step.start], self.vertices[step.start]
        first, last = self.vertices[0], self.vertices[-1]
        return (last, first) if step.backwards else (first, last)


def stretch_of(contour: Contour) -> Stretch:
    """Make the stretch that follows a contour."""
    vertices = tuple(complex(x, y) for x, y, _ in contour.vertices)
    return Stretch(vertices, contour.closed, length_of(contour))


def stretch_on_sheet(part: Part, shift: complex, spin: complex, passes: int) -> Stretch:
    """Make the stretch of a marking's part, run `passes` times, on a blank turned by `spin`, then shifted."""
    if part.kind == "line" and part.contours:
        along = stretch_of(part.contours[0])
        vertices, closed, length = along.vertices, along.closed, along.length
    else:
        vertices = tuple(complex(*sweep[k : k + 2]) for sweep in part.sweeps for k in (0, 2))
        closed, length = False, math.fsum(math.dist(sweep[:2], sweep[2:]) for sweep in part.sweeps)
    return Stretch(tuple(v * spin + shift for v in vertices), closed, length * passes)


def origin_of(machine: Machine, stock: Stock) -> complex:
    """Find the corner of a sheet where the head waits."""
    right, back = "right" in machine.origin, "back" in machine.origin
    return complex(stock.width if right else 0.0, stock.height if back else 0.0)


def check_cut_path(sheet: CutSheet, origin: complex, findings: Findings) -> None:
    """Check the cut path of a sheet."""
    place = f"sheet {sheet.name}, cut path"
    contours = {(pocket.number, k): c for pocket in sheet.pockets for k, c in enumerate(pocket.path)}
    stretches = {key: stretch_of(contour) for key, contour in contours.items()}
    if check_path(sheet.cut_path, stretches, origin, place, findings):
        _check_inner_first(sheet.cut_path.steps, contours, place, findings)


def check_path(
    path: Path, stretches: Mapping[Key, Stretch], origin: complex, place: str, findings: Findings
) -> bool:
    """Check that every stretch is run once, and the lengths; tell whether the steps are sound."""
    findings.count(steps=len(path.steps))
    done = Counter((step.pocket, step.part) for step in path.steps)
    for key in sorted(done.keys() | stretches.keys()):
        name = f"{place}, pocket {key[0]}, part {key[1]}"
        if key not in stretches:
            findings.add("path", name, "there is no such part; drop the step")
        elif done[key] != 1:
            findings.add("path", name, f"run {done[key]} times; run it once")
    unknown = [k for k, step in enumerate(path.steps) if not _start_known(step, stretches)]
    for k in unknown:
        findings.add(
            "path", f"{place}, steps[{k}]", f"its start {path.steps[k].start} is no vertex of the part"
        )
    if unknown or any(count != 1 for count in done.values()) or done.keys() != stretches.keys():
        return False
    _check_lengths(path, stretches, origin, place, findings)
    return True


def _start_known(step: Step, stretches: Mapping[Key, Stretch]) -> bool:
    stretch = stretches.get((step.pocket, step.part))
    return stretch is None or 0 <= step.start < max(len(stretch.vertices), 1)


def _check_lengths(
    path: Path, stretches: Mapping[Key, Stretch], origin: complex, place: str, findings: Findings
) -> None:
    numbered = [Step(*key) for key in sorted(stretches)]
    stated = {
        "travel": (path.travel, _travel(path.steps, stretches, origin)),
        "numbered_travel": (path.numbered_travel, _travel(numbered, stretches, origin)),
        "beam": (path.beam, math.fsum(stretch.length for stretch in stretches.values())),
    }
    for name, (figure, found) in stated.items():
        if not math.isfinite(figure) or abs(figure - found) > _ROOM_MM + 1e-6 * found:
            findings.add("travel", place, f"{name} is stated as {figure:.3f} mm; it is {found:.3f} mm")
    for name, time in (("seconds", path.seconds), ("numbered_seconds", path.numbered_seconds)):
        if not (math.isfinite(time) and time >= 0):
            findings.add("number", place, f"{name} is {time!r}; a time is a finite number from 0")


def _travel(steps: Sequence[Step], stretches: Mapping[Key, Stretch], origin: complex) -> float:
    """Add up the beam-off distances from the origin to the last step."""
    here, hops = origin, []
    for step in steps:
        stretch = stretches[step.pocket, step.part]
        if stretch.vertices:
            on, off = stretch.ends(step)
            hops.append(abs(on - here))
            here = off
    return math.fsum(hops)


def _check_inner_first(
    steps: Sequence[Step], contours: Mapping[Key, Contour], place: str, findings: Findings
) -> None:
    """Check that what lies inside a contour is cut before it."""
    keys = [(step.pocket, step.part) for step in steps if contours[step.pocket, step.part].closed]
    areas = [shapely.Polygon(chain(contours[key])) for key in keys]
    if not areas:
        return
    inner, outer = shapely.STRtree(areas).query([area.representative_point() for area in areas], "within")
    for i, o in zip(inner.tolist(), outer.tolist(), strict=True):
        if i > o and areas[o].contains(areas[i]):
            name = f"{place}, pocket {keys[i][0]}, part {keys[i][1]}"
            findings.add("path", name, f"lies inside pocket {keys[o][0]}, part {keys[o][1]}; cut it first")
