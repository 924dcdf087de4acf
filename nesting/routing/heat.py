"""Spreads heat: for a while after a cut nothing near it is cut."""

import random
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from nesting.job.job import Machine
from nesting.motion.moves import move_times
from nesting.packing.stop import Stop
from nesting.routing.legs import Order, closure
from nesting.routing.shapes import Floats, Point

EFFORT_PER_CUT = 2e-6
"""Measured: seconds to time one cut of an order on a desktop computer."""


@dataclass(frozen=True)
class Cuts:
    """Cuts to be put in order.

    Attributes
    ----------
    entry, leave
        Where the beam goes on and off, shape (n, 2).
    seconds
        What each takes.
    near
        For each the cuts that are its neighbours.
    phase
        Cuts of a lower phase come before those of a higher one.
    before
        Pairs of which the first is cut earlier.
    """

    entry: Floats
    leave: Floats
    seconds: Floats
    near: tuple[frozenset[int], ...]
    phase: tuple[int, ...]
    before: tuple[Order, ...]


@dataclass(frozen=True)
class Spread:
    """Cuts in order with the seconds waited before each, and when the last one ends."""

    order: tuple[int, ...]
    waits: tuple[float, ...]
    seconds: float


def spread_heat(
    cuts: Cuts, order: Sequence[int], start: Point, machine: Machine, stop: Stop, seed: int
) -> Spread:
    """Change an order so that little time goes by with travel and with waiting for neighbours to cool.

    The better of the order given and of always going on with what can be cut soonest is improved by
    moving and exchanging cuts.
    """
    clock = _Clock(cuts, start, machine)
    best = min((clock.run(trial) for trial in (list(order), clock.soonest())), key=lambda s: s.seconds)
    chance, count = random.Random(seed), len(order)
    tries = 0
    while count > 1 and not stop.reached and tries < 400 * count:
        tries += 1
        stop.spend(EFFORT_PER_CUT * count)
        trial = list(best.order)
        a, b = chance.randrange(count), chance.randrange(count)
        if chance.random() < 0.5:
            trial.insert(b, trial.pop(a))
        else:
            trial[a], trial[b] = trial[b], trial[a]
        if a != b and clock.allows(trial):
            found = clock.run(trial, best.seconds)
            if found.seconds < best.seconds - 1e-9:
                best, tries = found, 0
    return best


class _Clock:
    """Follows an order of cuts through time."""

    def __init__(self, cuts: Cuts, start: Point, machine: Machine) -> None:
        self.cuts, self.heat = cuts, machine.heat_time
        leave = np.vstack([cuts.leave, [start]])
        hops = leave[:, None] - cuts.entry
        self.moves: list[list[float]] = move_times(hops, machine.travel_speed, machine.kinematics).tolist()
        self.seconds: list[float] = cuts.seconds.tolist()
        self.earlier = closure(len(cuts.seconds), cuts.before)

    def run(self, order: Sequence[int], most: float = float("inf")) -> Spread:
        """Time an order; one that takes longer than `most` is not followed to its end."""
        ended: dict[int, float] = {}
        now, here, waits = 0.0, len(self.seconds), []
        for cut in order:
            now += self.moves[here][cut]
            free = max((ended[near] for near in self.cuts.near[cut] if near in ended), default=-self.heat)
            waits.append(max(free + self.heat - now, 0.0))
            now += waits[-1] + self.seconds[cut]
            ended[cut], here = now, cut
            if now > most:
                break
        return Spread(tuple(order), tuple(waits), now)

    def soonest(self) -> list[int]:
        """Go on, always, with what can be cut soonest."""
        ended: dict[int, float] = {}
        now, here = 0.0, len(self.seconds)
        while len(ended) < len(self.seconds):
            phase = min(self.cuts.phase[cut] for cut in range(len(self.seconds)) if cut not in ended)
            ready = {
                cut: max(
                    now + self.moves[here][cut],
                    max((ended[k] + self.heat for k in self.cuts.near[cut] if k in ended), default=0.0),
                )
                for cut in range(len(self.seconds))
                if cut not in ended and self.cuts.phase[cut] == phase and self.earlier[cut] <= ended.keys()
            }
            here = min(ready, key=lambda cut: (ready[cut], cut))
            now = ready[here] + self.seconds[here]
            ended[here] = now
        return list(ended)

    def allows(self, order: Sequence[int]) -> bool:
        """Tell whether what must come earlier does."""
        place = {cut: k for k, cut in enumerate(order)}
        phases = [self.cuts.phase[cut] for cut in order]
        return phases == sorted(phases) and all(place[a] < place[b] for a, b in self.cuts.before)
