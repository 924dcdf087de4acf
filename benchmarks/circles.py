"""Suite ``circles``: N equal circles, nearly as large as any known, into one square."""

import math
from collections.abc import Sequence

import nesting
from benchmarks.irregular import Pieces, read, solve
from benchmarks.suite import Outcome, Settings, Suite

SHARE = 0.985
"""The circles have this share of the best known radius."""

_SIDE = 1000.0


def instances(settings: Settings) -> list[Pieces]:
    """Take the published radii for N = 2 to 30, or square numbers, whose square grid is a layout."""
    if settings.data is None:
        radii = {n: 0.5 / math.isqrt(n) for n in (4, 9, 16)}
    else:
        table = read(settings.data, "circles.json")["radius_in_unit_square"]
        radii = {n: table[str(n)] for n in range(2, 31)}
    return [_instance(n, radius) for n, radius in radii.items()]


def _instance(n: int, radius: float) -> Pieces:
    disc = nesting.Item("disc", nesting.Footprint.circle(2 * SHARE * radius * _SIDE), quantity=n)
    return Pieces(f"N {n:02}", "circles", (disc,), nesting.Sheet(_SIDE, _SIDE, quantity=1), "placed", n)


def _conclusion(outcomes: Sequence[Outcome]) -> str:
    solved = sum(o.value == o.reference and o.sound for o in outcomes)
    return f"all circles placed in {solved} of {len(outcomes)} instances at {SHARE} of the best known radius"


SUITE = Suite(
    "circles", "equal circles of nearly the best known radius into a square", instances, solve, _conclusion
)
