"""What a wrapped marking measures along its body, worked out from samples of the surface.

A place seen from above is lifted onto the sampled body and turned back into the body's own axis. Its
flat place follows from its distance along the side and its angle round the axis.
"""

import math
from dataclasses import replace

import numpy as np

from nesting.body.body import Turned
from nesting.check.sampled import Sampled
from nesting.check.solids import Floats, chain
from nesting.geometry.contour import Contour
from nesting.job.job import Blank
from nesting.plan_values import Placed

WRAP_MM = 0.02
"""Wrapped artwork is verified to this: its curves are lines that stray by up to 6 µm, seen aslant."""
_STEP_MM = 0.01
_NEAR_DEG = 0.2
_STRAIGHT = 1e-7


class Flattened:
    """The side of a blank's body, laid flat as a wrapped artwork finds it.

    Parameters
    ----------
    blank
        With a body of revolution.
    thickness
        Of the sheet in mm.
    seen
        Places that are marked, shape (n, 2): they say which piece of the body it is.

    Attributes
    ----------
    spread
        How many times as far two places may lie apart along the surface as seen from above.
    """

    def __init__(self, blank: Blank, thickness: float, seen: Floats) -> None:
        assert blank.solid is not None, "a flat blank is not laid flat"
        body = blank.solid.body
        assert isinstance(body, Turned), "a sphere is not laid flat"
        self._body = Sampled(blank.solid, thickness)
        at, _ = self._body.on_axis(seen)
        (near, first), (far, last) = max(
            body.pieces, key=lambda piece: int(((at >= piece[0][0]) & (at <= piece[1][0])).sum())
        )
        self._slope = math.atan2(last - first, far - near)
        self._middle, self._radius = (near + far) / 2, (first + last) / 2
        self._x = self._body.crown(self._middle)
        self.spread = 1 / math.cos(math.radians(blank.most_incidence))

    def flat(self, seen: Floats) -> Floats:
        """Say where places seen from above lie flat: as seen on the crown amid the piece."""
        at, around = self._body.on_axis(seen)
        along = (at - self._middle) / math.cos(self._slope)
        if abs(self._slope) < _STRAIGHT:
            return np.column_stack([self._x + along, self._radius * around])
        # laid flat round the tip of the cone, an arc is as long as it is round the axis
        tip = self._radius / math.sin(self._slope)
        places = (tip + along) * np.exp(1j * around * math.sin(self._slope)) - tip
        return np.column_stack([self._x + places.real, places.imag])

    def contour(self, contour: Contour) -> Contour:
        """Lay a contour flat, vertex by vertex."""
        return Contour.polyline(self.flat(chain(contour, WRAP_MM / 10)), closed=contour.closed)

    def incidence(self, seen: Floats) -> Floats:
        """Measure the angle between beam and surface normal in degrees, by differences of heights."""
        rises = []
        for way in ((_STEP_MM, 0.0), (0.0, _STEP_MM)):
            ahead, behind = (self._body.top(*(seen + side * np.array(way)).T) for side in (1, -1))
            rises.append((ahead - behind) / (2 * _STEP_MM))
        return np.asarray(np.degrees(np.arctan(np.hypot(*rises))))


def lies_on_body(placed: Placed, blank: Blank, thickness: float) -> bool:
    """Tell whether all that is marked lies on the body of a blank, as seen from above."""
    assert blank.solid is not None, "a flat blank has no body"
    return not np.isnan(Sampled(blank.solid, thickness).top(*_marked(placed).T)).any()


def laid_flat(placed: Placed, blank: Blank, thickness: float) -> tuple[Placed, Flattened]:
    """Lay a wrapped artwork that lies on its body flat; its sweeps stay as they are."""
    side = Flattened(blank, thickness, _marked(placed))
    parts = tuple(
        replace(part, contours=tuple(side.contour(contour) for contour in part.contours))
        for part in placed.parts
    )
    return replace(placed, parts=parts), side


def steep_fault(placed: Placed, side: Flattened, blank: Blank) -> str | None:
    """Say if the beam meets a wrapped artwork at more than the blank allows."""
    worst = float(np.nan_to_num(side.incidence(_marked(placed)), nan=90.0).max())
    if worst > blank.most_incidence + _NEAR_DEG:
        return (
            f"the beam meets it at up to {worst:.1f}°; allowed: {blank.most_incidence:g}°; make it narrower"
        )
    return None


def _marked(placed: Placed) -> Floats:
    """Places along all that is marked, as seen from above, shape (n, 2)."""
    return np.concatenate([chain(c, WRAP_MM / 10) for part in placed.parts for c in part.contours])
