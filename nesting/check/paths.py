"""The check of paths: every part once, inner before outer, and the lengths stated."""

import math
from collections import Counter
from collections.abc import Mapping, Sequence

import shapely

from nesting.check.joints import joint_fault, joint_stretch
from nesting.check.report import Findings
from nesting.check.solids import chain
from nesting.check.stretch import Stretch, stretch_of
from nesting.geometry.contour import Contour
from nesting.job.job import Machine, Stock
from nesting.plan_values import CutSheet, Path, Step

Key = tuple[int, int]
"""Pocket number and index of the part."""

Run = tuple[Stretch, Step]
"""What the beam runs in one go, and the step, or first of several, that says which way."""

_ROOM_MM = 0.01


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
    runs = _runs(path.steps, stretches, place, findings)
    if runs is None:
        return False
    _check_lengths(path, runs, stretches, origin, place, findings)
    return True


def _start_known(step: Step, stretches: Mapping[Key, Stretch]) -> bool:
    stretch = stretches.get((step.pocket, step.part))
    return stretch is None or 0 <= step.start < max(len(stretch.vertices), 1)


def _runs(
    steps: Sequence[Step], stretches: Mapping[Key, Stretch], place: str, findings: Findings
) -> list[Run] | None:
    """Give what the beam runs without a move between: one step, or several swept together."""
    groups: list[list[int]] = []
    for k, step in enumerate(steps):
        if step.joined and groups:
            groups[-1].append(k)
        else:
            groups.append([k])
    if steps and steps[0].joined:
        findings.add("path", f"{place}, steps[0]", "joined, but there is no step before it")
        return None
    runs, faulty = [], False
    for group in groups:
        members = [stretches[steps[k].pocket, steps[k].part] for k in group]
        fault = joint_fault(members) if len(members) > 1 else None
        if len({steps[k].backwards for k in group}) > 1:
            fault = "swept together, but not all in one direction"
        if fault:
            findings.add("path", f"{place}, steps[{group[-1]}]", fault)
            faulty = True
        else:
            runs.append((joint_stretch(members) if len(members) > 1 else members[0], steps[group[0]]))
    return None if faulty else runs


def _check_lengths(
    path: Path,
    runs: Sequence[Run],
    stretches: Mapping[Key, Stretch],
    origin: complex,
    place: str,
    findings: Findings,
) -> None:
    numbered = [(stretches[key], Step(*key)) for key in sorted(stretches)]
    stated = {
        "travel": (path.travel, _travel(runs, origin)),
        "numbered_travel": (path.numbered_travel, _travel(numbered, origin)),
        "beam": (path.beam, math.fsum(stretch.length for stretch, _ in runs)),
    }
    for name, (figure, found) in stated.items():
        if not math.isfinite(figure) or abs(figure - found) > _ROOM_MM + 1e-6 * found:
            findings.add("travel", place, f"{name} is stated as {figure:.3f} mm; it is {found:.3f} mm")
    for name, time in (("seconds", path.seconds), ("numbered_seconds", path.numbered_seconds)):
        if not (math.isfinite(time) and time >= 0):
            findings.add("number", place, f"{name} is {time!r}; a time is a finite number from 0")


def _travel(runs: Sequence[Run], origin: complex) -> float:
    """Add up the beam-off distances from the origin to the last run."""
    here, hops = origin, []
    for stretch, step in runs:
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
