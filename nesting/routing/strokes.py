"""Strokes: what the beam runs in one go, and the ways to run each of them."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from nesting.job.job import Machine
from nesting.motion.moves import move_times
from nesting.routing.shapes import Floats, Point, Shape

Ints = NDArray[np.int64]
Weigh = Callable[[Floats], Floats]


@dataclass(frozen=True)
class Strokes:
    """The ways to run each of a number of strokes, as arrays with one entry a way.

    Attributes
    ----------
    owner
        The stroke that the way runs, ascending from 0, every stroke at least once.
    entry, leave
        Where the beam goes on and off, mm, shape (ways, 2).
    cost
        What the way costs more than the stroke's cheapest one.
    start, backwards
        How it is run: see `nesting.routing.shapes.Run`.
    weigh
        Turns moves, shape (..., 2), into what they cost.
    """

    owner: Ints
    entry: Floats
    leave: Floats
    cost: Floats
    start: Ints
    backwards: NDArray[np.bool_]
    weigh: Weigh

    @cached_property
    def first(self) -> Ints:
        """Index of each stroke's first way, and the number of ways at the end."""
        return np.searchsorted(self.owner, np.arange(self.count + 1))

    @property
    def count(self) -> int:
        """How many strokes there are."""
        return int(self.owner[-1]) + 1 if len(self.owner) else 0

    def ways(self, stroke: int) -> range:
        """List the indices of the ways to run a stroke."""
        return range(int(self.first[stroke]), int(self.first[stroke + 1]))

    def only(self, ways: Ints) -> "Strokes":
        """Keep some of the ways, ascending; the strokes are numbered anew."""
        _, owner = np.unique(self.owner[ways], return_inverse=True)
        return Strokes(owner.astype(np.int64), self.entry[ways], self.leave[ways], self.cost[ways],
                       self.start[ways], self.backwards[ways], self.weigh)  # fmt: skip

    def moves(self, ways: Sequence[int] | Ints, start: Point) -> Floats:
        """Give the moves in mm from `start` to the first way and on from way to way, shape (n, 2)."""
        entry, leave = self.entry[ways], self.leave[ways]
        return entry - np.vstack([np.array([start]), leave[:-1]]) if len(ways) else np.zeros((0, 2))

    def total(self, ways: Sequence[int] | Ints, start: Point, end: Point | None = None) -> float:
        """Cost of running ways one after the other, and of the move to `end` if there is one."""
        if len(ways) == 0:
            return 0.0
        cost = float(np.sum(self.weigh(self.moves(ways, start))) + np.sum(self.cost[ways]))
        if end is None:
            return cost
        return cost + float(self.weigh(self.leave[ways[-1]] - np.array(end)))


def make_strokes(
    shapes: Sequence[Shape],
    machine: Machine | None,
    most: int,
    starts: Mapping[int, Ints] | None = None,
) -> Strokes:
    """List the ways to run shapes, no more than `most` a shape.

    A closed contour may start at any of its vertices (spread evenly if there are more than `most`),
    an open one and a block may be run two ways. `starts` names the vertices to offer instead, by the
    shape's index. With a machine the costs are seconds, without one mm.
    """
    named = starts or {}
    rows = [_ways(shape, machine, most, named.get(k)) for k, shape in enumerate(shapes)]
    sizes = [len(row[0]) for row in rows]
    entry, leave, cost, start, backwards = (np.concatenate(column) for column in zip(*rows, strict=True))
    owner = np.repeat(np.arange(len(shapes)), sizes)
    return Strokes(owner, entry, leave, cost, start, backwards, weighing(machine))


def weighing(machine: Machine | None) -> Weigh:
    """Give the cost of travelling: its time on the machine, or its length."""
    if machine is None:
        return _length
    speed, kinematics = machine.travel_speed, machine.kinematics
    return lambda hops: move_times(hops, speed, kinematics)


_Ways = tuple[Floats, Floats, Floats, Ints, NDArray[np.bool_]]


def _ways(shape: Shape, machine: Machine | None, most: int, starts: Ints | None) -> _Ways:
    if not shape.starts:
        ends = shape.points[[0, -1]]
        return ends, ends[::-1], np.zeros(2), np.zeros(2, dtype=np.int64), np.array([False, True])
    if starts is None:
        starts = _spread(shape.points, most)
    cost = np.zeros(len(starts))
    if machine is not None:
        times = shape.times(tuple(starts.tolist()), machine)
        cost = times - times.min()
    return shape.points[starts], shape.points[starts], cost, starts, np.zeros(len(starts), dtype=bool)


def _spread(points: Floats, most: int) -> Ints:
    """Choose no more than `most` vertices of a closed contour, spread evenly along it."""
    if len(points) <= most:
        return np.arange(len(points))
    chords = np.diff(points, axis=0)
    along = np.concatenate([[0.0], np.cumsum(np.hypot(chords[:, 0], chords[:, 1]))])
    return np.unique(np.searchsorted(along, np.linspace(0, along[-1], most, endpoint=False)))


def _length(hops: Floats) -> Floats:
    return np.asarray(np.hypot(hops[..., 0], hops[..., 1]))
