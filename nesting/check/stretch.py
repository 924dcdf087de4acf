"""What the beam runs in one step of a path, worked out from contours and sweeps."""

import math
from dataclasses import dataclass

from nesting.check.distances import length_of
from nesting.geometry.contour import Contour
from nesting.plan_values import Part, Step


@dataclass(frozen=True)
class Stretch:
    """What the beam runs in one step, on the sheet.

    Attributes
    ----------
    vertices
        As x + iy.
    length
        Beam-on length of all passes in mm.
    sweeps
        Ends of the sweeps, for a fill.
    setting, passes
        How it is marked.
    lead
        Where a cut begins in the waste, if it does.
    """

    vertices: tuple[complex, ...]
    closed: bool
    length: float
    sweeps: tuple[tuple[complex, complex], ...] = ()
    setting: str = ""
    passes: int = 1
    lead: complex | None = None

    def ends(self, step: Step) -> tuple[complex, complex]:
        """Where the beam goes on and off."""
        if self.closed:
            off = self.vertices[step.start]
            return (off if self.lead is None else self.lead), off
        first, last = self.vertices[0], self.vertices[-1]
        return (last, first) if step.backwards else (first, last)

    def run_length(self, step: Step) -> float:
        """Beam-on length in mm, a lead-in included."""
        if self.lead is None or not self.closed:
            return self.length
        return self.length + abs(self.lead - self.vertices[step.start])


def stretch_of(contour: Contour) -> Stretch:
    """Make the stretch that follows a contour."""
    vertices = tuple(complex(x, y) for x, y, _ in contour.vertices)
    return Stretch(vertices, contour.closed, length_of(contour))


def stretch_on_sheet(part: Part, shift: complex, spin: complex, setting: str, passes: int) -> Stretch:
    """Make the stretch of a marking's part, run `passes` times, on a blank turned by `spin`, then shifted."""
    if part.kind == "line" and part.contours:
        along = stretch_of(part.contours[0])
        vertices = tuple(v * spin + shift for v in along.vertices)
        return Stretch(vertices, along.closed, along.length * passes, (), setting, passes)
    ends = tuple((complex(x0, y0), complex(x1, y1)) for x0, y0, x1, y1 in part.sweeps)
    sweeps = tuple((a * spin + shift, b * spin + shift) for a, b in ends)
    length = math.fsum(abs(b - a) for a, b in ends)
    vertices = tuple(point for sweep in sweeps for point in sweep)
    return Stretch(
        vertices, closed=False, length=length * passes, sweeps=sweeps, setting=setting, passes=passes
    )
