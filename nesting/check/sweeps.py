"""The check of the sweeps of a fill: they stay in its area, cover it, and keep their interval."""

import cmath
import math
from collections.abc import Sequence
from functools import cached_property

import numpy as np
import shapely

from nesting.check.distances import Places
from nesting.check.solids import chain
from nesting.plan_values import Part

FLAT_MM = 0.011
"""Marks are verified to this: 0.01 mm for a curve cut into chords, and 1 µm."""
_CHORD_MM = 5e-4
_ROW_MM = 1e-5
_ANGLE = 1e-4

Span = tuple[float, float]


def sweep_fault(
    part: Part, interval: float, earlier: Sequence[Part] = (), angle: float | None = 0.0
) -> str | None:
    """Say what is wrong with the sweeps of a fill whose sweeps should be `interval` mm apart.

    What lies in one of the `earlier` fills is not to be swept again. `angle` is the direction asked
    for, in degrees; None leaves the choice between 0 and 90.
    """
    if not part.sweeps:
        deep = _Area(part, along=1j, earlier=earlier).tallest > interval
        return f"no sweeps, but the area is higher than the interval of {interval:g} mm" if deep else None
    ends = np.array(part.sweeps)
    if not np.isfinite(ends).all():
        return "sweeps must have finite ends; make them again"
    starts, stops = ends[:, 0] + 1j * ends[:, 1], ends[:, 2] + 1j * ends[:, 3]
    along = _direction(stops - starts)
    allowed = (0.0, 90.0) if angle is None else (angle,)
    turned = [along * cmath.rect(1, -math.radians(degrees)) for degrees in allowed]
    if min(abs(way.imag) for way in turned) > _ANGLE:
        return f"sweeps do not run at {' or '.join(f'{degrees:g}°' for degrees in allowed)}; turn them"
    starts, stops = starts / along, stops / along
    if np.abs((stops - starts).imag).max() > _ROW_MM:
        return "sweeps run in different directions; run them side by side"
    area, spans = _Area(part, along, earlier), np.sort(np.column_stack([starts.real, stops.real]), axis=1)
    low = float(starts.imag.min())
    if low < area.bottom - FLAT_MM or starts.imag.max() > area.top + FLAT_MM:
        return "sweeps lie beside the area; drop them"
    rows = np.round((starts.imag - low) / interval)
    if np.abs(starts.imag - low - rows * interval).max() > _ROW_MM:
        return f"sweeps are not {interval:g} mm apart; space them so"
    first = min(math.ceil((area.bottom - low) / interval), 0)
    last = max(math.floor((area.top - low) / interval), int(rows.max()))
    for row in range(first, last + 1):
        swept = _joined(sorted((float(a), float(b)) for a, b in spans[rows == row]))
        if fault := area.fault(swept, low + row * interval):
            return fault
    return None


def is_thin(part: Part, earlier: Sequence[Part] = ()) -> bool:
    """Tell whether a fill has no area that could be marked, that of earlier fills left out."""
    return _Area(part, along=1j, earlier=earlier).tallest <= FLAT_MM


class _Area:
    """A filled area, in coordinates whose x axis runs along the sweeps."""

    def __init__(self, part: Part, along: complex, earlier: Sequence[Part] = ()) -> None:
        rings = [chain(contour, _CHORD_MM) for contour in part.contours]
        self._rings: list[Places] = [(ring[:, 0] + 1j * ring[:, 1]) / along for ring in rings]
        self._rule, self._along = part.rule, along
        self.bottom = min(float(ring.imag.min()) for ring in self._rings)
        self.top = max(float(ring.imag.max()) for ring in self._rings)
        self._earlier = [other for other in (_Area(p, along) for p in earlier) if other.meets(self)]

    def meets(self, other: "_Area") -> bool:
        """Tell whether the extents of two areas meet."""
        return self.bottom <= other.top and other.bottom <= self.top

    @cached_property
    def _edges(self) -> shapely.MultiLineString:
        rings = [ring for area in (self, *self._earlier) for ring in area._rings]
        closed = [np.append(ring, ring[:1]) for ring in rings]
        edges = shapely.MultiLineString([np.column_stack([ring.real, ring.imag]) for ring in closed])
        shapely.prepare(edges)
        return edges

    @property
    def tallest(self) -> float:
        """Length of the longest stretch inside, looked for on 64 rows."""
        rows = np.linspace(self.bottom, self.top, 66)[1:-1]
        return max((b - a for row in rows for a, b in self.spans(float(row))), default=0.0)

    def fault(self, swept: Sequence[Span], height: float) -> str | None:
        """Say where what is swept on a row is not what is inside on it."""
        wanted = self.spans(height)
        for x in self._deep(_minus(swept, wanted), height):
            return f"a sweep leaves the area at {self._at(x, height)}; end it at the edge"
        for x in self._deep(_minus(wanted, swept), height):
            return f"the area is not swept at {self._at(x, height)}; sweep all of it"
        return None

    def spans(self, height: float) -> list[Span]:
        """Find the stretches of a row that are inside this area and no earlier one."""
        taken = _joined(sorted(span for area in self._earlier for span in area.spans(height)))
        return _minus(self._spans(height), taken) if taken else self._spans(height)

    def _spans(self, height: float) -> list[Span]:
        """Find the stretches of a row that are inside, by the fill rule of the SVG standard."""
        crossings: list[tuple[float, int]] = []
        for ring in self._rings:
            cut = (ring.imag <= height) != (np.roll(ring.imag, -1) <= height)
            a, b = ring[cut], np.roll(ring, -1)[cut]
            x = a.real + (height - a.imag) / (b.imag - a.imag) * (b.real - a.real)
            crossings += zip(x.tolist(), np.where(b.imag > a.imag, 1, -1).tolist(), strict=True)
        spans, winding, begin = [], 0, 0.0
        for x, step in sorted(crossings):
            before, winding = self._inside(winding), winding + step
            if self._inside(winding) and not before:
                begin = x
            elif before and not self._inside(winding):
                spans.append((begin, x))
        return _joined(spans)

    def _inside(self, winding: int) -> bool:
        return winding % 2 == 1 if self._rule == "evenodd" else winding != 0

    def _deep(self, spans: Sequence[Span], height: float) -> list[float]:
        """Middles of those spans that are not just beside an edge of the area."""
        middles = [(a + b) / 2 for a, b in spans]
        return [x for x in middles if self._edges.distance(shapely.Point(x, height)) > FLAT_MM]

    def _at(self, x: float, height: float) -> str:
        place = complex(x, height) * self._along
        return f"({place.real:.3f}, {place.imag:.3f})"


def _direction(sweeps: Places) -> complex:
    """Give the direction of the longest sweep, to the right or straight up, with length 1."""
    longest: complex = sweeps[np.abs(sweeps).argmax()]
    along = longest / abs(longest) if longest else 1 + 0j
    return -along if (along.real, along.imag) < (0, 0) else along


def _joined(spans: Sequence[Span]) -> list[Span]:
    """Join sorted spans that touch."""
    joined: list[Span] = []
    for a, b in spans:
        if joined and a <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(b, joined[-1][1]))
        else:
            joined.append((a, b))
    return joined


def _minus(spans: Sequence[Span], others: Sequence[Span]) -> list[Span]:
    """Cut sorted, disjoint spans out of others of that kind."""
    left = []
    for begin, end in spans:
        here = begin
        for a, b in others:
            if a < end and b > here:
                if a > here:
                    left.append((here, a))
                here = max(here, b)
        if here < end:
            left.append((here, end))
    return left
