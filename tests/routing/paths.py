"""Random contours and slow, plain answers for the tests of path ordering."""

import itertools
import math
import random
from collections.abc import Callable, Sequence

from nesting.geometry.contour import Contour

Ends = tuple[complex, complex]
Cost = Callable[[float], float]


def random_contours(chance: random.Random, count: int, corners: int = 4) -> list[Contour]:
    """Open and closed contours of a few vertices strewn over 200 x 150 mm."""
    contours = []
    for _ in range(count):
        x, y = chance.uniform(0, 200), chance.uniform(0, 150)
        points = [
            (x + chance.uniform(0, 40), y + chance.uniform(0, 40)) for _ in range(chance.randint(2, corners))
        ]
        contours.append(Contour.polyline(points, closed=len(points) > 2 and chance.random() < 0.7))
    return contours


def ends(contour: Contour, start: int = 0, backwards: bool = False) -> Ends:
    """Where the beam goes on and off, as x + iy."""
    points = [complex(x, y) for x, y, _ in contour.vertices]
    if contour.closed:
        return points[start], points[start]
    return (points[-1], points[0]) if backwards else (points[0], points[-1])


def all_ways(contour: Contour) -> list[Ends]:
    """Every way to run a contour."""
    if contour.closed:
        return [ends(contour, k) for k in range(len(contour.vertices))]
    return [ends(contour), ends(contour, backwards=True)]


def travelled(stretches: Sequence[Ends], start: complex = 0) -> float:
    """Beam-off distance from the start through stretches in order."""
    leaves = [start, *(off for _, off in stretches)]
    return math.fsum(abs(on - leave) for (on, _), leave in zip(stretches, leaves, strict=False))


def best_for_order(order: Sequence[Contour]) -> float:
    """Least travel when the order is fixed: every combination of ways is tried."""
    return min(travelled(choice) for choice in itertools.product(*map(all_ways, order)))


def best_of_all(contours: Sequence[Contour], before: Sequence[tuple[int, int]] = ()) -> float:
    """Least travel of all orders and ways that respect the pairs: tried one by one."""
    ways = [all_ways(contour) for contour in contours]
    best = math.inf

    def extend(done: frozenset[int], here: complex, spent: float) -> None:
        nonlocal best
        if spent >= best:
            return
        if len(done) == len(contours):
            best = spent
            return
        for k in set(range(len(contours))) - done:
            if all(a in done for a, b in before if b == k):
                for on, off in ways[k]:
                    extend(done | {k}, off, spent + abs(on - here))

    extend(frozenset(), 0j, 0.0)
    return best
