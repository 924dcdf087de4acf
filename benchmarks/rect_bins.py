"""Suite ``rect-bins``: rectangles of different sizes onto as few equal sheets as possible."""

import random
from collections.abc import Sequence

from benchmarks.rectangles import read, solve
from benchmarks.suite import Instance, Outcome, Settings, Suite, accepted

_UNIFORM = {1: (10, 10), 2: (10, 30), 3: (35, 40), 4: (35, 100), 5: (100, 100), 6: (100, 300)}
"""Class: largest side of a rectangle, side of the sheet (Berkey and Wang 1987)."""

_COUNTS = (20, 40, 60, 80, 100)


def instances(settings: Settings) -> list[Instance]:
    """Read the published instances, or generate one for every class and number of rectangles."""
    if settings.data is None:
        return [generated(number, count, settings.seed) for number in range(1, 11) for count in _COUNTS]
    bound = "area_bound" if settings.turns else "lower_bound_no_rotation"
    return [
        Instance(
            found["name"], _group(found["class"]), tuple(map(tuple, found["items"])), tuple(found["sheet"]),
            found[bound],
        )
        for found in read(settings.data, "bins_bwmv.json")
    ]  # fmt: skip


def generated(number: int, count: int, seed: int) -> Instance:
    """Draw an instance as the classes are defined (classes 7 to 10: Martello and Vigo 1998)."""
    rng = random.Random(f"{number} {count} {seed}")
    if number in _UNIFORM:
        most, side = _UNIFORM[number]
        sizes = [(float(rng.randint(1, most)), float(rng.randint(1, most))) for _ in range(count)]
    else:
        side = 100
        kinds = [number - 6] * 7 + [kind for kind in (1, 2, 3, 4) if kind != number - 6]
        sizes = [_mixed(rng, rng.choice(kinds), side) for _ in range(count)]
    return Instance(f"generated {number:02} {count:03}", _group(number), tuple(sizes), (side, side))


def _mixed(rng: random.Random, kind: int, side: int) -> tuple[float, float]:
    half, long, short = side // 2, -(-2 * side // 3), 1
    ranges = {
        1: ((long, side), (short, half)), 2: ((short, half), (long, side)),
        3: ((half, side), (half, side)), 4: ((short, half), (short, half)),
    }[kind]  # fmt: skip
    return float(rng.randint(*ranges[0])), float(rng.randint(*ranges[1]))


def _solve(instance: Instance, settings: Settings) -> Outcome:
    return solve(instance, settings, turns=(0, 90) if settings.turns else (0,), quantity=None)


def _conclusion(outcomes: Sequence[Outcome]) -> str:
    sheets, bound = sum(o.value for o in outcomes), sum(o.bound for o in outcomes)
    share = sum(o.proven for o in outcomes) / len(outcomes)
    return (
        f"total {sheets:.0f} sheets, own bound {bound:.0f}, {share:.1%} proven optimal, {accepted(outcomes)}"
    )


def _group(number: int) -> str:
    return f"class {number:02}"


SUITE = Suite("rect-bins", "rectangles onto as few equal sheets as possible", instances, _solve, _conclusion)
