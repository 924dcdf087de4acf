"""Suite ``rect-strip``: rectangles, quarter turns allowed, onto the shortest piece of a roll."""

import random
from collections.abc import Sequence

from benchmarks.rectangles import read, solve
from benchmarks.suite import Instance, Outcome, Settings, Suite

_CATEGORIES = (
    (16, 20, 20),
    (25, 40, 15),
    (29, 60, 30),
    (49, 60, 60),
    (73, 60, 90),
    (97, 80, 120),
    (197, 160, 240),
)
"""Rectangles, width and height of the categories C1 to C7 (Hopper and Turton 2001)."""


def instances(settings: Settings) -> list[Instance]:
    """Read the published instances, or cut up sheets of the same sizes, so that nothing is wasted."""
    if settings.data is None:
        return [_cut_up(n, *category, settings.seed) for n, category in enumerate(_CATEGORIES, 1)]
    return [
        Instance(
            found["name"], found["name"][:2], tuple(map(tuple, found["items"])), (found["strip_width"], None),
            found["optimal_height"],
        )
        for found in read(settings.data, "strip_zero_waste_c.json")
    ]  # fmt: skip


def _cut_up(number: int, count: int, width: int, height: int, seed: int) -> Instance:
    rng = random.Random(f"{number} {seed}")
    pieces = [(width, height)]
    while len(pieces) < count:
        w, h = pieces.pop(max(range(len(pieces)), key=lambda i: pieces[i][0] * pieces[i][1] * rng.random()))
        if w > 1 and (w >= h or h == 1):
            cut = rng.randint(1, w - 1)
            pieces += [(cut, h), (w - cut, h)]
        elif h > 1:
            cut = rng.randint(1, h - 1)
            pieces += [(w, cut), (w, h - cut)]
        else:
            pieces.append((w, h))
    sizes = tuple((float(w), float(h)) for w, h in pieces)
    return Instance(f"generated C{number}", f"C{number}", sizes, (width, None), height)


def _solve(instance: Instance, settings: Settings) -> Outcome:
    return solve(instance, settings, turns=(0, 90), quantity=None)


def _conclusion(outcomes: Sequence[Outcome]) -> str:
    excess = [100 * (o.value / o.reference - 1) for o in outcomes if o.reference]
    optimal = sum(value < 1e-6 for value in excess)
    return (
        f"mean excess over the optimum {sum(excess) / len(excess):.2f} %, {optimal} of {len(excess)} optimal"
    )


SUITE = Suite("rect-strip", "rectangles onto the shortest piece of a roll", instances, _solve, _conclusion)
