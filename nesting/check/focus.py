"""The check of focus heights: what is in focus in a load, and when the machine refocuses."""

import math

from nesting.check.report import Findings
from nesting.job.job import UNSTATED_DEPTH_MM, Blank, Machine
from nesting.plan_values import Load

_SURE_MM = 1e-6
_GROWTH = {"rayleigh": math.sqrt(2), "10 %": 1.10, "5 %": 1.05}
"""How much larger than in focus a spot may be, by the rule for the depth of focus."""


def focus_fault(blank: Blank, machine: Machine, focus: float) -> str | None:
    """Say why a blank is out of focus at a focus height; None if it is not.

    Where the mark area is deeper than the depth of focus it follows the artwork, anywhere on that surface.
    """
    depth = _depth_of_focus(machine)
    allowed = (depth - blank.relief) / 2 if blank.relief <= depth else blank.relief + depth / 2
    if abs(blank.height - focus) <= allowed + _SURE_MM:
        return None
    found = f"{blank.name} is {blank.height:g} mm high; the focus is at {focus:g} mm"
    return f"{found}; allowed: {allowed:.3g} mm away; load it apart"


def _depth_of_focus(machine: Machine) -> float:
    """Work out how far apart the places are between which a Gaussian beam is narrow enough, in mm."""
    lens = machine.lens
    if lens is None:
        return UNSTATED_DEPTH_MM
    waist = 4 * lens.beam_quality * lens.wavelength * lens.focal_length / (math.pi * lens.beam_diameter)
    length = math.pi * waist**2 / (4 * lens.beam_quality * lens.wavelength)
    return 2 * length * math.sqrt(_GROWTH[lens.depth_rule] ** 2 - 1)


def check_focus(load: Load, machine: Machine, findings: Findings) -> None:
    """Check that a load has several focus heights only where the machine can, and goes up through them."""
    place, focus = (
        f"load {load.number}",
        {filling.pocket: load.focus_of(filling) for filling in load.fillings},
    )
    if not all(map(math.isfinite, (load.focus_height, *focus.values()))):
        findings.add("number", place, "a focus height must be finite")
        return
    lowest, highest = min(focus.values(), default=0.0), max(focus.values(), default=0.0)
    able = 0.0 if machine.refocus is None else machine.refocus.range
    if highest - lowest > able + _SURE_MM:
        found = f"focus heights from {lowest:g} to {highest:g} mm; the machine refocuses within {able:g} mm"
        findings.add("height", place, f"{found}; load them apart")
    seconds = machine.refocus.seconds if machine.refocus is not None else 0.0
    here: float | None = None
    for k, step in enumerate(load.mark_path.steps):
        there = focus.get(step.pocket, here)
        if here is not None and there is not None and there != here:
            name = f"{place}, mark path, steps[{k}]"
            if there < here:
                findings.add(
                    "path", name, f"focus goes down from {here:g} to {there:g} mm; mark low blanks first"
                )
            if step.wait < seconds - _SURE_MM:
                found = f"waits {step.wait:g} s where the focus changes; refocusing takes {seconds:g} s"
                findings.add("path", name, found)
        here = there
