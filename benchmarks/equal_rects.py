"""Suite ``equal-rects``: as many equal rectangles as possible, quarter turns allowed, on one sheet."""

import random
from collections.abc import Sequence

from benchmarks.rectangles import read, solve
from benchmarks.suite import Instance, Outcome, Settings, Suite

_GENERATED = 20


def instances(settings: Settings) -> list[Instance]:
    """Read the published instances, or draw some in the same range of sizes."""
    if settings.data is None:
        return [_drawn(n, settings.seed) for n in range(_GENERATED)]
    return [
        _instance(tuple(found["item"]), tuple(found["sheet"]), found["optimum"])
        for found in read(settings.data, "identical_rectangles.json")
    ]


def _drawn(number: int, seed: int) -> Instance:
    rng = random.Random(f"{number} {seed}")
    item = (rng.randint(5, 15), rng.randint(3, 11))
    sheet = (rng.randint(20, 90), rng.randint(15, 80))
    return _instance(item, sheet, None)


def _instance(item: tuple[float, float], sheet: tuple[float, float], optimum: float | None) -> Instance:
    name = f"{item[0]:g} x {item[1]:g} on {sheet[0]:g} x {sheet[1]:g}"
    return Instance(name, "published" if optimum else "generated", (item,), sheet, optimum)


def _solve(instance: Instance, settings: Settings) -> Outcome:
    (w, h), (width, height) = instance.sizes[0], instance.stock
    more = int(width * (height or 0) // (w * h)) + 1
    return solve(instance, settings, turns=(0, 90), quantity=more)


def _conclusion(outcomes: Sequence[Outcome]) -> str:
    reached = sum(o.value >= (o.reference or o.bound) for o in outcomes)
    return f"{reached} of {len(outcomes)} at the published optimum, or at the bound where none is published"


SUITE = Suite(
    "equal-rects", "as many equal rectangles as possible on one sheet", instances, _solve, _conclusion
)
