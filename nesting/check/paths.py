"""The check of paths: every part once, inner before outer, and the lengths stated."""

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import asdict

from nesting.check.clock import travel_seconds
from nesting.check.joints import joint_fault, joint_stretch
from nesting.check.report import Findings
from nesting.check.stretch import Stretch
from nesting.job.job import Machine, Stock
from nesting.plan_values import Path, Step

Key = tuple[int, int]
"""Pocket number and index of the part."""

Run = tuple[Stretch, Step]
"""What the beam runs in one go, and the step, or first of several, that says which way."""

_ROOM_MM = 0.01
_ROOM_S = 0.01


def origin_of(machine: Machine, stock: Stock) -> complex:
    """Find the corner of a sheet where the head waits."""
    right, back = "right" in machine.origin, "back" in machine.origin
    return complex(stock.width if right else 0.0, stock.height if back else 0.0)


def check_path(
    path: Path,
    stretches: Mapping[Key, Stretch],
    origin: complex,
    machine: Machine,
    place: str,
    findings: Findings,
    numbered: Mapping[Key, Stretch] | None = None,
) -> bool:
    """Check that every stretch is run once, and the lengths; tell whether the steps are sound.

    `numbered` are the stretches as they are run in numbered order, where that makes a difference.
    """
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
    if _check_lengths(path, runs, numbered or stretches, origin, place, findings):
        _check_travel_seconds(path, runs, origin, machine, place, findings)
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
) -> bool:
    # the sheet's own outline, number 0, comes last
    order = sorted(stretches, key=lambda key: (key[0] == 0, key))
    numbered = [(stretches[key], Step(*key)) for key in order]
    stated = {
        "travel": (path.travel, _travel(runs, origin)),
        "numbered_travel": (path.numbered_travel, _travel(numbered, origin)),
        "beam": (path.beam, math.fsum(stretch.run_length(step) for stretch, step in runs)),
    }
    sound = True
    for name, (figure, found) in stated.items():
        if not math.isfinite(figure) or abs(figure - found) > _ROOM_MM + 1e-6 * found:
            findings.add("travel", place, f"{name} is stated as {figure:.3f} mm; it is {found:.3f} mm")
            sound = False
    _check_times(path, place, findings)
    return sound


def _check_times(path: Path, place: str, findings: Findings) -> None:
    """Check that times are times, and that what they are split into adds up."""
    split = {f"times.{key}": value for key, value in asdict(path.times).items()}
    named = {"seconds": path.seconds, "numbered_seconds": path.numbered_seconds, "bound": path.bound, **split}
    for name, time in named.items():
        if not (math.isfinite(time) and time >= 0):
            findings.add("number", place, f"{name} is {time!r}; a time is a finite number from 0")
    waits = math.fsum(step.wait for step in path.steps)
    # a plan of an older version says nothing of what its times are split into
    if path.times.total and not abs(path.times.total - path.seconds) <= _ROOM_S + 1e-6 * path.seconds:
        findings.add("number", place, f"times sum to {path.times.total:.3f} s, not to {path.seconds:.3f} s")
    if not abs(path.times.wait - waits) <= _ROOM_S or any(step.wait < 0 for step in path.steps):
        findings.add("number", place, f"waits add up to {waits:.3f} s; times.wait is {path.times.wait:.3f} s")
    if path.bound > path.seconds + _ROOM_S:
        findings.add("bound", place, f"at least {path.bound:.3f} s is claimed; it takes {path.seconds:.3f} s")


def _check_travel_seconds(
    path: Path, runs: Sequence[Run], origin: complex, machine: Machine, place: str, findings: Findings
) -> None:
    """Check the time that travel takes; a plan of an older version states none."""
    found = math.fsum(travel_seconds(hop, machine) for hop in _hops(runs, origin))
    if path.times.total and not abs(path.times.travel - found) <= _ROOM_S + 1e-4 * found:
        message = f"travel is stated to take {path.times.travel:.3f} s; it takes {found:.3f} s"
        findings.add("number", place, message)


def _travel(runs: Sequence[Run], origin: complex) -> float:
    """Add up the beam-off distances from the origin to the last run."""
    return math.fsum(abs(hop) for hop in _hops(runs, origin))


def _hops(runs: Sequence[Run], origin: complex) -> list[complex]:
    """Give the moves from the origin to the last run."""
    here, hops = origin, list[complex]()
    for stretch, step in runs:
        if stretch.vertices:
            on, off = stretch.ends(step)
            hops.append(on - here)
            here = off
    return hops
