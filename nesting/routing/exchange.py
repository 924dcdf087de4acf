"""Equal pockets are interchangeable: which unit lies in which, by the way of the beam between units."""

import math
import random
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from itertools import combinations, groupby, pairwise

import numpy as np
from numpy.typing import NDArray

from nesting.job.job import Machine
from nesting.motion.moves import Floats, move_times
from nesting.plan_values import Filling, Marking, Part, Path, Pocket, Step

LEAST_GAIN = 1e-6
"""Seconds that an exchange must save."""

MOST_TRIES = 3000
WORK = 42_000
"""Tries times pockets."""

WARMTH = 0.3
"""Of the mean way between two pockets, at the begin of the search."""

MOST_ENDS = 2000
"""Of more pockets times ways nothing is exchanged: the table of moves would be too large."""

MOST_WAYS = 6
"""Ways to run a marking that are considered."""

Way = tuple[complex, complex]
"""Where the beam reaches a unit and where it leaves it, in the blank's coordinates."""

Hops = NDArray[np.complex128]


def exchangeable(fillings: Sequence[Filling], pockets: Mapping[int, Pocket]) -> bool:
    """Tell whether two pockets for one blank hold units that are marked differently."""
    kinds = {(pockets[f.pocket].blank, f.marking) for f in fillings if f.marking is not None}
    return len(kinds) > len({blank for blank, _ in kinds})


def exchange_units(
    fillings: Sequence[Filling],
    pockets: Mapping[int, Pocket],
    markings: Mapping[str, Marking],
    path: Path,
    machine: Machine,
    start: tuple[float, float],
    seed: int = 1,
    over: Callable[[], bool] = bool,
) -> tuple[Filling, ...] | None:
    """Exchange units of one blank so that the beam travels less from unit to unit.

    A marking is reached and left where one of its units is on the path, or the other way round; in which
    order the pockets are visited is searched along.

    Parameters
    ----------
    path
        The path of the load as it is filled.
    start
        Where the beam waits, mm.
    over
        Asked now and then; answering True ends the search with the best so far.

    Returns
    -------
    The fillings in the order of their pockets; None if nothing is gained, or if the path visits a pocket
    twice or sweeps units together, for then the order says too little.
    """
    visits = [(pocket, list(steps)) for pocket, steps in groupby(path.steps, key=lambda step: step.pocket)]
    together = any(step.joined for step in path.steps)
    if not exchangeable(fillings, pockets) or together or len({pocket for pocket, _ in visits}) < len(visits):
        return None
    marked = {filling.pocket: filling.marking for filling in fillings if filling.marking is not None}
    ways: defaultdict[str, set[Way]] = defaultdict(set)
    for pocket, steps in visits:
        parts = markings[marked[pocket]].parts
        ends = _ends(parts[steps[0].part], steps[0])[0], _ends(parts[steps[-1].part], steps[-1])[1]
        ways[marked[pocket]] |= {ends, ends[::-1]}
    names = sorted(ways)
    order = [pockets[pocket] for pocket, _ in visits]
    kinds = [sorted(ways[name], key=str)[:MOST_WAYS] for name in names]
    if len(order) * sum(map(len, kinds)) > MOST_ENDS:
        return None
    begun = [names.index(marked[pocket.number]) for pocket in order]
    found = _searched(begun, order, _Chain(order, kinds, machine, start), random.Random(seed), over)
    if found is None:
        return None
    return moved(fillings, pockets, {p.number: names[m] for p, m in zip(order, found, strict=True)})


def moved(
    fillings: Sequence[Filling], pockets: Mapping[int, Pocket], marked: Mapping[int, str]
) -> tuple[Filling, ...]:
    """Put units where what is marked in each pocket is what is stated; what is not stated stays."""
    units: defaultdict[tuple[str, str | None], list[Filling]] = defaultdict(list)
    ordered = sorted(fillings, key=lambda filling: filling.pocket)
    for filling in ordered:
        units[pockets[filling.pocket].blank, filling.marking].append(filling)
    return tuple(
        replace(units[pockets[f.pocket].blank, marked.get(f.pocket, f.marking)].pop(0), pocket=f.pocket)
        for f in ordered
    )


def _ends(part: Part, step: Step) -> Way:
    """Say where a step begins and ends."""
    if part.kind == "line":
        contour = part.contours[0]
        points = contour.vertices[step.start], contour.vertices[step.start if contour.closed else -1]
        ends = complex(*points[0][:2]), complex(*points[1][:2])
    elif part.sweeps:
        ends = complex(*part.sweeps[0][:2]), complex(*part.sweeps[-1][2:])
    else:
        ends = (complex(*part.contours[0].vertices[0][:2]),) * 2
    return (ends[1], ends[0]) if step.backwards else ends


class _Chain:
    """Times the way through pockets, every marking run in the best of its ways."""

    def __init__(
        self,
        pockets: Sequence[Pocket],
        ways: Sequence[Sequence[Way]],
        machine: Machine,
        start: tuple[float, float],
    ) -> None:
        ends = np.array([way for some in ways for way in some])
        bounds = np.cumsum([0, *map(len, ways)]).tolist()
        spots = np.array([complex(pocket.x, pocket.y) for pocket in pockets])[:, None]
        spins = np.exp(1j * np.radians([pocket.turn for pocket in pockets]))[:, None]
        reached, left = ((spots + spins * ends[:, k]).ravel() for k in (0, 1))
        self._of = [
            [slice(k * len(ends) + a, k * len(ends) + b) for a, b in pairwise(bounds)]
            for k in range(len(pockets))
        ]
        self._first = _times(reached - complex(*start), machine)
        self._legs = _times(reached[None, :] - left[:, None], machine)

    def seconds(self, order: Sequence[int], chosen: Sequence[int]) -> float:
        """Time the travel, given the order of the pockets and the marking in each."""
        here = self._of[order[0]][chosen[order[0]]]
        spent = self._first[here]
        for k in order[1:]:
            there = self._of[k][chosen[k]]
            spent = (spent[:, None] + self._legs[here, there]).min(axis=0)
            here = there
        return float(spent.min())


def _times(hops: Hops, machine: Machine) -> Floats:
    return move_times(np.stack([hops.real, hops.imag], axis=-1), machine.travel_speed, machine.kinematics)


def _searched(
    begun: Sequence[int],
    pockets: Sequence[Pocket],
    chain: _Chain,
    rng: random.Random,
    over: Callable[[], bool],
) -> list[int] | None:
    """Anneal the order of the pockets and the markings in them; None if that saves nothing."""
    count, kept = len(pockets), None
    order, chosen = list(range(count)), list(begun)
    pairs = [(i, j) for i, j in combinations(range(count), 2) if pockets[i].blank == pockets[j].blank]
    now = best = chain.seconds(order, chosen)
    tries, warmest = min(MOST_TRIES, WORK // count), WARMTH * now / count
    for k in range(tries):
        if k % 64 == 0 and over():
            break
        if k % 2:
            changed = order, _swapped(chosen, *rng.choice(pairs))
        else:
            i, j = sorted(rng.sample(range(count), 2))
            changed = _reordered(order, i, j, turned=rng.random() < 0.5), chosen
        found = chain.seconds(*changed)
        warmth = warmest * (1 - k / tries) ** 2 + 1e-12
        if found < now or rng.random() < math.exp((now - found) / warmth):
            (order, chosen), now = changed, found
            if now < best - LEAST_GAIN:
                best, kept = now, chosen
    return kept


def _swapped(chosen: list[int], i: int, j: int) -> list[int]:
    swapped = list(chosen)
    swapped[i], swapped[j] = chosen[j], chosen[i]
    return swapped


def _reordered(order: list[int], i: int, j: int, *, turned: bool) -> list[int]:
    """Turn a stretch round, or move its first pocket behind it."""
    stretch = order[i : j + 1]
    return [*order[:i], *(stretch[::-1] if turned else [*stretch[1:], stretch[0]]), *order[j + 1 :]]
