"""Fills areas with parallel sweeps, nowhere twice."""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

import networkx as nx
import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from nesting.geometry.contour import Contour, cos_sin
from nesting.geometry.drawing import FillRule

Sweep = tuple[float, float, float, float]
Area = tuple[Sequence[Contour], FillRule]
Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Wanted = Callable[[Ints, Ints], NDArray[np.bool_]]

FINE_MM = 0.005
"""Arcs are flattened to this before they are swept."""

SHORTEST_MM = 1e-6
"""A sweep shorter than this is rounding, not area."""


def hatch(
    contours: Sequence[Contour], rule: FillRule, interval: float, angle: float = 0.0
) -> tuple[Sweep, ...]:
    """Sweep the inside of contours with lines `interval` mm apart.

    Every line stands for a band of one interval, so the outermost ones lie half an interval inside
    the extent of the area, and an area thinner than the interval gets one line along its middle.

    Parameters
    ----------
    contours
        Outlines; an open one is closed by a straight line, as SVG 2, section 13.4.2, says.
    rule
        What is inside.
    interval
        Distance of the lines in mm.
    angle
        Direction of the lines in degrees counter-clockwise from x.

    Returns
    -------
    ``(x0, y0, x1, y1)`` in mm for each sweep, every other line backwards.

    Examples
    --------
    >>> square = Contour.polyline([(0, 0), (2, 0), (2, 2), (0, 2)])
    >>> hatch([square], "nonzero", 1.0)
    ((0.0, 0.5, 2.0, 0.5), (2.0, 1.5, 0.0, 1.5))
    >>> hatch([], "nonzero", 1.0)
    ()
    """
    return hatch_apart([(contours, rule)], interval, angle)[0]


def hatch_apart(
    areas: Sequence[Area], interval: float, angle: float = 0.0, grid: bool = False
) -> list[tuple[Sweep, ...]]:
    """Sweep several areas, so that what lies in more than one is swept with the first of them only.

    Areas whose extents meet share their lines. Parameters and sweeps are those of `hatch`. With `grid`
    all areas share their lines, which are whole intervals and a half from (0, 0), so that they can be
    swept together, also with those of another unit; the outermost ones then lie up to one interval
    inside the extent, and an area that no line of the grid meets gets its own.

    Examples
    --------
    >>> squares = [Contour.polyline([(x, 0), (x + 2, 0), (x + 2, 1), (x, 1)]) for x in (0, 1)]
    >>> hatch_apart([([square], "nonzero") for square in squares], 1.0)
    [((0.0, 0.5, 2.0, 0.5),), ((2.0, 0.5, 3.0, 0.5),)]
    """
    made = [_Edges.of(contours, rule, angle) for contours, rule in areas]
    sweeps: list[tuple[Sweep, ...]] = [() for _ in areas]
    for group in _meeting(made):
        lines = _Lines.over([made[k] for k in group], interval, grid)
        taken = _Spans.none()
        for k in group:
            spans = lines.inside(made[k])
            sweeps[k] = _sweeps(spans.without(taken) if len(taken.line) else spans, lines, angle)
            taken = spans.joined(taken) if len(group) > 1 else taken
    return sweeps


@dataclass(frozen=True)
class _Edges:
    """The straight edges of an area, turned so that its sweeps run along x."""

    starts: Floats
    ends: Floats
    rule: FillRule

    @classmethod
    def of(cls, contours: Sequence[Contour], rule: FillRule, angle: float) -> "_Edges":
        c, s = cos_sin(angle)
        rings = [contour.flattened(FINE_MM) @ np.array([[c, -s], [s, c]]) for contour in contours]
        if not rings:
            return cls(np.zeros((0, 2)), np.zeros((0, 2)), rule)
        return cls(np.vstack(rings), np.vstack([np.roll(ring, -1, axis=0) for ring in rings]), rule)

    @cached_property
    def box(self) -> BaseGeometry:
        box: BaseGeometry = shapely.box(*self.starts.min(axis=0), *self.starts.max(axis=0))
        return box


def _meeting(areas: Sequence[_Edges]) -> Iterable[list[int]]:
    """Group the areas, empty ones left out, whose extents meet, each group in the given order."""
    there = [k for k, area in enumerate(areas) if len(area.starts)]
    boxes = [areas[k].box for k in there]
    pairs = shapely.STRtree(boxes).query(boxes, predicate="intersects") if boxes else np.zeros((2, 0))
    graph = nx.Graph((there[int(a)], there[int(b)]) for a, b in pairs.T)
    return (sorted(group) for group in nx.connected_components(graph))


@dataclass(frozen=True)
class _Spans:
    """Stretches of lines: the line's number and both ends, sorted and apart on each line."""

    line: Ints
    x0: Floats
    x1: Floats

    @classmethod
    def none(cls) -> "_Spans":
        return cls(np.zeros(0, dtype=np.int64), np.zeros(0), np.zeros(0))

    def without(self, others: "_Spans") -> "_Spans":
        """Keep what lies in no other."""
        return self._where(others, lambda mine, other: (mine > 0) & (other == 0))

    def joined(self, others: "_Spans") -> "_Spans":
        """Join what lies in these or in others."""
        return self._where(others, lambda mine, other: mine + other > 0)

    def _where(self, others: "_Spans", wanted: Wanted) -> "_Spans":
        line = np.concatenate([self.line, self.line, others.line, others.line])
        x = np.concatenate([self.x0, self.x1, others.x0, others.x1])
        mine, other = np.zeros(len(x), dtype=np.int64), np.zeros(len(x), dtype=np.int64)
        n, m = len(self.line), len(others.line)
        mine[:n], mine[n : 2 * n] = 1, -1
        other[2 * n : 2 * n + m], other[2 * n + m :] = 1, -1
        order = np.lexsort((x, line))
        return _switched(line[order], x[order], wanted(np.cumsum(mine[order]), np.cumsum(other[order])))


@dataclass(frozen=True)
class _Lines:
    """Lines along x at equal distances."""

    heights: Floats
    interval: float

    @classmethod
    def over(cls, areas: Sequence[_Edges], interval: float, grid: bool) -> "_Lines":
        low = min(area.starts[:, 1].min() for area in areas)
        high = max(area.starts[:, 1].max() for area in areas)
        # a line on the very edge would meet it or miss it by rounding
        lowest, highest = math.ceil(low / interval - 0.5 + 1e-6), math.floor(high / interval - 0.5 - 1e-6)
        if grid and lowest <= highest:
            return cls((np.arange(lowest, highest + 1) + 0.5) * interval, interval)
        count = max(1, round((high - low) / interval))
        return cls(low + (high - low - (count - 1) * interval) / 2 + interval * np.arange(count), interval)

    def inside(self, area: _Edges) -> _Spans:
        """Find the stretches of the lines that are inside an area."""
        line, x, winding = self._crossings(area.starts, area.ends)
        inside = np.cumsum(winding) != 0 if area.rule == "nonzero" else np.arange(len(x)) % 2 == 0
        return _switched(line, x, inside)

    def _crossings(self, starts: Floats, ends: Floats) -> tuple[Ints, Floats, Ints]:
        """Where edges cross the lines: line number, x and direction of each, sorted.

        An edge owns its lower end but not its upper one, so a corner counts once.
        """
        first, count = self.heights[0], len(self.heights)
        up = np.where(ends[:, 1] > starts[:, 1], 1, -1)
        bottom, top = np.minimum(starts[:, 1], ends[:, 1]), np.maximum(starts[:, 1], ends[:, 1])
        begin = np.clip(np.ceil((bottom - first) / self.interval), 0, count).astype(np.int64)
        stop = np.clip(np.ceil((top - first) / self.interval), 0, count).astype(np.int64)
        edge = np.repeat(np.arange(len(starts)), stop - begin)
        before = np.cumsum(stop - begin) - (stop - begin)
        line = np.arange(len(edge)) - before[edge] + begin[edge]
        a, b = starts[edge], ends[edge]
        share = np.clip((self.heights[line] - a[:, 1]) / (b[:, 1] - a[:, 1]), 0.0, 1.0)
        x = a[:, 0] + share * (b[:, 0] - a[:, 0])
        order = np.lexsort((x, line))
        return line[order], x[order], up[edge][order]


def _switched(line: Ints, x: Floats, inside: NDArray[np.bool_]) -> _Spans:
    """Make spans of sorted places and whether it is inside after each."""
    change = np.flatnonzero(np.diff(inside, prepend=False))
    enter, leave = change[::2], change[1::2]
    keep = x[leave] - x[enter] > SHORTEST_MM
    return _Spans(line[enter][keep], x[enter][keep], x[leave][keep])


def _sweeps(spans: _Spans, lines: _Lines, angle: float) -> tuple[Sweep, ...]:
    c, s = cos_sin(angle)
    back = np.array([[c, s], [-s, c]])
    turned = _serpentine(spans, lines.heights[spans.line])
    sweeps = np.hstack([turned[:, :2] @ back, turned[:, 2:] @ back])
    return tuple((x0, y0, x1, y1) for x0, y0, x1, y1 in sweeps.tolist())


def _serpentine(spans: _Spans, heights: Floats) -> Floats:
    """Run every other used line backwards, its spans in backward order; columns x0, y0, x1, y1."""
    _, used = np.unique(spans.line, return_inverse=True)
    backwards = used % 2 == 1
    x0, x1 = np.where(backwards, spans.x1, spans.x0), np.where(backwards, spans.x0, spans.x1)
    order = np.lexsort((np.where(backwards, -x0, x0), spans.line))
    return np.column_stack([x0, heights, x1, heights])[order]
