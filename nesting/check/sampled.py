"""A lying body known only by which points of space are in it: its pose, shadow and top, by sampling."""

import math
from collections.abc import Callable
from functools import cached_property
from itertools import pairwise

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from nesting.body.body import Sphere, Turned
from nesting.body.solid import Solid
from nesting.check.solids import Bools, Floats

_LAYERS = 240
_LAYER_MM = 0.12
_GAP_MM = 0.01
_COLUMNS = 120
_HALVINGS = 26
_SLICES = 4000


class Sampled:
    """A solid in a sheet so thick.

    Its pose is found by letting its centre of gravity sink as low as it can, or by tilting or lowering
    it until it meets what holds it.
    """

    def __init__(self, solid: Solid, thickness: float) -> None:
        self._face = thickness
        self._width = solid.pocket_width
        self._shim = solid.shim
        self._round = isinstance(solid.body, Sphere)
        self._at, self._radii = _slices(solid.body)
        self._tilt, self._axis = self._laid()
        spread = self._radii * abs(math.sin(self._tilt))
        along = self._at * math.cos(self._tilt)
        self._left = 0.0 if self._round else -float((along - spread).min())
        self.extent = float((along - spread).min()) + self._left, float((along + spread).max()) + self._left

    def inside(self, x: Floats, y: Floats, z: Floats) -> Bools:
        """Tell which points are in the body."""
        ahead, up = x - self._left, z - self._axis
        position = ahead * math.cos(self._tilt) + up * math.sin(self._tilt)
        away = (up * math.cos(self._tilt) - ahead * math.sin(self._tilt)) ** 2 + y**2
        within = (position >= self._at[0] - 1e-9) & (position <= self._at[-1] + 1e-9)
        return np.asarray(within & (away <= self._radius_at(position) ** 2 + 1e-9))

    def shadow(self, face: float) -> BaseGeometry:
        """Draw the outline from above of what lies no higher than a face, column by column."""
        low, high = self.extent
        highest = min(face, self.peak)
        layers = np.linspace(0, highest, max(_LAYERS, math.ceil(highest / _LAYER_MM)))

        def in_shadow(x: Floats, y: Floats) -> Bools:
            return np.asarray(self.inside(x[:, None], y[:, None], layers).any(axis=1))

        columns = self._columns(low, high, face, lambda x: in_shadow(x, np.zeros(len(x))))
        there = in_shadow(columns, np.zeros(len(columns)))
        reach = np.full(len(columns), float(self._radii.max()) * 1.001)
        half = _last(lambda y: in_shadow(columns, y), np.zeros(len(columns)), reach)
        points = np.column_stack([columns, half])[there]
        ring = shapely.Polygon(np.vstack([points, points[::-1] * (1, -1)]))
        apart = (np.diff(np.flatnonzero(there)) > 1) & (np.diff(columns[there]) > _GAP_MM)
        return ring.convex_hull if apart.any() else ring.buffer(0)

    def top(self, x: Floats, y: Floats) -> Floats:
        """Find the highest point of the body over places; NaN where there is none."""
        layers = np.linspace(0, self.peak, _LAYERS)
        within = self.inside(x[:, None], y[:, None], layers)
        highest = _LAYERS - 1 - within[:, ::-1].argmax(axis=1)
        low, high = layers[highest], layers[highest] + layers[1]
        found = _last(lambda z: self.inside(x, y, z), low, high)
        return np.where(within.any(axis=1), found, np.nan)

    def on_axis(self, seen: Floats) -> tuple[Floats, Floats]:
        """Lift places, shape (n, 2), onto the top: position along the axis, and angle round it from above."""
        ahead, up = seen[:, 0] - self._left, self.top(seen[:, 0], seen[:, 1]) - self._axis
        position = ahead * math.cos(self._tilt) + up * math.sin(self._tilt)
        return position, np.arctan2(seen[:, 1], up * math.cos(self._tilt) - ahead * math.sin(self._tilt))

    def crown(self, position: float) -> float:
        """Say where seen from above the crown of a slice lies."""
        radius = float(self._radius_at(np.array([position]))[0])
        return self._left + position * math.cos(self._tilt) - radius * math.sin(self._tilt)

    @cached_property
    def peak(self) -> float:
        """A height that nothing of the body reaches."""
        return float((self._heights() + self._radii).max()) + 0.001

    def _columns(self, low: float, high: float, face: float, there: Callable[[Floats], Bools]) -> Floats:
        """Spread columns, closer together where the outline may have corners or end."""
        breaks = self._breaks(low, high, face)
        rough = _spread(breaks)
        found = there(rough)
        leaving, coming = np.flatnonzero(found[:-1] & ~found[1:]), np.flatnonzero(~found[:-1] & found[1:])
        inner = np.concatenate([rough[leaving], rough[coming + 1]])
        outer = np.concatenate([rough[leaving + 1], rough[coming]])
        if len(inner):
            none, all_of_it = np.zeros(len(inner)), np.ones(len(inner))
            inner = inner + (outer - inner) * _last(
                lambda share: there(inner + (outer - inner) * share), none, all_of_it
            )
        return _spread(np.unique(np.concatenate([breaks, inner])))

    def _breaks(self, low: float, high: float, face: float) -> Floats:
        """Places where the outline from above may have corners."""
        if self._round:
            return np.array([low, high])
        steps = np.flatnonzero(np.abs(np.diff(self._radii, 2, prepend=0, append=0)) > 1e-9)
        at, radii = self._at[steps], self._radii[steps]
        through = (face - self._heights()[steps]) / math.cos(self._tilt)
        depths = np.concatenate([radii, -radii, 0 * radii, np.clip(through, -radii, radii)])
        ends = self._left + np.tile(at, 4) * math.cos(self._tilt) - depths * math.sin(self._tilt)
        return np.unique([low, high, *ends[(ends > low) & (ends < high)]])

    def _radius_at(self, position: Floats) -> Floats:
        if self._round:
            square = self._radii.max() ** 2 - position**2
            return np.asarray(np.sqrt(np.maximum(square, 0)))
        return np.interp(position, self._at, self._radii)

    def _heights(self) -> Floats:
        return np.asarray(self._axis + self._at * math.sin(self._tilt))

    def _lowest(self, tilt: float) -> Floats:
        """Lowest point of each slice, counted from the start of the axis."""
        return np.asarray(self._at * math.sin(tilt) - self._radii * math.cos(tilt))

    def _laid(self) -> tuple[float, float]:
        if self._width is not None:
            return self._on_edges(self._width)
        if self._round:
            return 0.0, float(self._radii.max())
        middle = float((self._at * self._radii**2).sum() / (self._radii**2).sum())

        def energy(tilt: float) -> float:
            return middle * math.sin(tilt) - float(self._lowest(tilt).min())

        tilt = _least(energy, -1.0, 1.0)
        if self._shim:
            tilt = self._raised(tilt)
        return tilt, -float(self._lowest(tilt).min())

    def _raised(self, tilt: float) -> float:
        """Tilt until the bottom of the narrower of two slices that lie on the bed is on the shim."""
        on_bed = np.flatnonzero(self._lowest(tilt) - self._lowest(tilt).min() < 1e-3)
        first, last = int(on_bed[0]), int(on_bed[-1])
        small, large = (first, last) if self._radii[first] <= self._radii[last] else (last, first)
        turn = -1.0 if small == first else 1.0

        def short(by: Floats) -> Bools:
            lowest = self._lowest(tilt + turn * float(by[0]))
            return np.array([lowest[small] - lowest[large] <= self._shim])

        return tilt + turn * float(_last(short, np.zeros(1), np.full(1, math.pi / 2))[0])

    def _on_edges(self, width: float) -> tuple[float, float]:
        """Lower the body, or tilt it about its smaller end, until it meets the edges of its pocket."""
        large = float(self._radii.max())
        if self._round or self._radii[0] == self._radii[-1]:
            free = _last(
                lambda axis: np.array([self._widest(0.0, large + float(axis[0])) > width / 2]),
                np.zeros(1), np.full(1, 2 * self._face + large),
            )  # fmt: skip
            return 0.0, large + (float(free[0]) if self._widest(0.0, large) > width / 2 else 0.0)
        turn, k = (1.0, 0) if self._radii[0] < self._radii[-1] else (-1.0, -1)
        tilt = math.atan2(abs(self._radii[-1] - self._radii[0]), self._at[-1])
        while self._widest(turn * tilt, -float(self._lowest(turn * tilt)[k])) > width / 2:
            tilt += 1e-5
        return turn * tilt, -float(self._lowest(turn * tilt)[k])

    def _widest(self, tilt: float, axis: float) -> float:
        """Half the width of what lies no higher than the face."""
        depth = (axis + self._at * math.sin(tilt) - self._face) / math.cos(tilt)
        half = np.sqrt(np.maximum(self._radii**2 - np.maximum(depth, 0) ** 2, 0))
        return float(half.max())


def _slices(body: Turned | Sphere) -> tuple[Floats, Floats]:
    """Positions and radii of slices, close together; a step is a very short stretch."""
    if isinstance(body, Sphere):
        at = np.linspace(-body.radius, body.radius, _SLICES)
        return at, np.sqrt(np.maximum(body.radius**2 - at**2, 0))
    stations = np.array(body.profile)
    stations[:, 0] += 1e-7 * np.arange(len(stations))
    at = np.unique(np.concatenate([np.linspace(0, stations[-1, 0], _SLICES), stations[:, 0]]))
    return at, np.interp(at, stations[:, 0], stations[:, 1])


def _spread(breaks: Floats) -> Floats:
    stretches = [_clustered(a, b) for a, b in pairwise(breaks.tolist()) if b - a > 1e-6]
    return np.unique(np.concatenate(stretches))


def _clustered(a: float, b: float) -> Floats:
    """Columns between two places, closer together towards both."""
    return np.asarray((a + b) / 2 - (b - a) / 2 * np.cos(np.linspace(0, math.pi, _COLUMNS)))


def _last(holds: Callable[[Floats], Bools], low: Floats, high: Floats) -> Floats:
    """Find, for many at once, the largest value up to which something holds, by halving."""
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        good = holds(middle)
        low, high = np.where(good, middle, low), np.where(good, high, middle)
    return low


def _least(value: Callable[[float], float], low: float, high: float) -> float:
    """Find where a value that falls and then rises is least."""
    for _ in range(3 * _HALVINGS):
        a, b = low + (high - low) / 3, high - (high - low) / 3
        low, high = (low, b) if value(a) <= value(b) else (a, high)
    return (low + high) / 2
