"""Suite ``circles``: N equal circles, as large as can be beside the largest known, into one square."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import nesting
from benchmarks.irregular import Pieces, judged, packed, read
from benchmarks.suite import Outcome, Settings, Suite, accepted
from nesting.packing.stop import Stop

SHARE = 0.985
"""Circles of this share of the best known radius are to fit."""

LEAST = 0.9
"""No smaller share is tried."""

_FIRST, _PER_TRY = 0.8, 0.3
"""Shares of the time left for the first try, and for each further one."""

_FINEST, _SHORTEST = 1e-5, 0.02
"""The end comes when shares differ by no more than that, or that share of the time is left."""

_SIDE = 1000.0


@dataclass(frozen=True)
class Circles:
    """So many circles, and the largest radius known for them in a square of side 1."""

    name: str
    count: int
    radius: float

    def pieces(self, share: float) -> Pieces:
        """Give circles of a share of that radius, and the square."""
        disc = nesting.Item("disc", nesting.Footprint.circle(2 * share * self.radius * _SIDE), self.count)
        square = nesting.Sheet(_SIDE, _SIDE, quantity=1)
        return Pieces(self.name, "circles", (disc,), square, "placed", 1.0)


def instances(settings: Settings) -> list[Circles]:
    """Take the published radii for N = 2 to 30, or square numbers, whose square grid is a layout."""
    if settings.data is None:
        radii = {n: 0.5 / math.isqrt(n) for n in (4, 9, 16)}
    else:
        table = read(settings.data, "circles.json")["radius_in_unit_square"]
        radii = {n: table[str(n)] for n in range(2, 31)}
    return [Circles(f"N {n:02}", n, radius) for n, radius in radii.items()]


def _solve(circles: Circles, settings: Settings) -> Outcome:
    """Halve again and again what is open between shares that fit and shares that do not, as long as time is.

    The value is the largest share that fitted, and its bound that of the area.
    """
    stop, low, high = Stop(settings.seconds), LEAST, 1.0
    share, part, best = SHARE, _FIRST, None
    while high - low > _FINEST:
        if stop.left < _SHORTEST * settings.seconds:
            break
        pieces = circles.pieces(share)
        layout = packed(pieces, replace(settings, seconds=part * stop.left))
        if layout.unplaced:
            high = share
        else:
            low, best = share, (pieces, layout)
        share, part = (low + high) / 2, _PER_TRY
    pieces, layout = best or (pieces, layout)
    outcome = judged(pieces, settings, layout)
    area = circles.count * math.pi * circles.radius**2
    return replace(outcome, value=low if best else 0.0, bound=area**-0.5, proven=False, seconds=stop.elapsed)


def _conclusion(outcomes: Sequence[Outcome]) -> str:
    solved = sum(o.value >= SHARE and o.sound for o in outcomes)
    least = min(o.value for o in outcomes)
    return (
        f"circles of {SHARE} of the best known radius fit in {solved} of {len(outcomes)} instances, "
        f"at least {least:.4f} in all, {accepted(outcomes)}"
    )


SUITE = Suite(
    "circles", "equal circles, as large as any known, into a square", instances, _solve, _conclusion
)
