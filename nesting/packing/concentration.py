"""Emptying a sheet by and by: its pieces go to fuller sheets one by one, alone or for a smaller piece.

Each step is small, the search for room being one on a single sheet, and what is won is kept, so that
many sheets can be thinned out where moving a whole one at once is hopeless.
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np

from nesting.packing.exchange import Exchange
from nesting.packing.filling import Filling, Spot
from nesting.packing.stop import Stop

_PATIENCE = 40
"""Rounds without less overlap after which a step is given up."""

_TRIES = 2
"""How often the same step is tried as long as its sheets stay as they are."""

_PER_TRY = 1e-3
"""Effort of setting up one try."""


class _Step(NamedTuple):
    """A piece of the emptiest sheet goes to another, for nothing or for a smaller piece of that one."""

    to: int
    piece: Spot
    back: Spot | None
    share: float
    """Share of the free area that the receiving sheet loses."""


class Concentration:
    """Finds layouts of as many sheets, or one less, whose emptiest sheet holds less."""

    def __init__(self, exchange: Exchange, rng: np.random.Generator) -> None:
        self.exchange, self.rng = exchange, rng
        self._failed: Counter[tuple[Filling, Filling, str, str]] = Counter()

    def step(self, fillings: Sequence[Filling], stop: Stop) -> list[Filling] | None:
        """Try one step; None if it fails, or nothing is left to try."""
        stop.spend(_PER_TRY)
        giver = min(range(len(fillings)), key=lambda k: fillings[k].area)
        steps = list(self._steps(fillings, giver))
        if not steps:
            return None
        chances = np.array([step.share * (1.0 - step.share) ** 2 for step in steps]) + 1e-9
        step = steps[self.rng.choice(len(steps), p=chances / chances.sum())]
        found = self._done(fillings, giver, step, stop)
        if found is None:
            self._failed[_key(fillings, giver, step)] += 1
        return found

    def _steps(self, fillings: Sequence[Filling], giver: int) -> Iterator[_Step]:
        pieces = {spot.shape.item.name: spot for spot in fillings[giver].spots}
        for to, filling in enumerate(fillings):
            free = filling.room.area - filling.area
            if to == giver:
                continue
            backs = {spot.shape.item.name: spot for spot in filling.spots}
            for piece in pieces.values():
                for back in (None, *backs.values()):
                    gain = piece.shape.area - (back.shape.area if back else 0.0)
                    step = _Step(to, piece, back, gain / max(free, 1e-9))
                    if gain > 1e-6 and step.share <= 1 and self._failed[_key(fillings, giver, step)] < _TRIES:
                        yield step

    def _done(self, fillings: Sequence[Filling], giver: int, step: _Step, stop: Stop) -> list[Filling] | None:
        found, back = list(fillings), [] if step.back is None else [step.back]
        there = self.exchange.done(fillings[step.to], back, [step.piece.shape], _PATIENCE, stop)
        if there is None:
            return None
        here = self.exchange.done(
            fillings[giver], [step.piece], [spot.shape for spot in back], _PATIENCE, stop
        )
        if here is None:
            return None
        found[step.to], found[giver] = there, here
        return [filling for filling in found if filling.spots]


def _key(fillings: Sequence[Filling], giver: int, step: _Step) -> tuple[Filling, Filling, str, str]:
    back = step.back.shape.item.name if step.back else ""
    return fillings[giver], fillings[step.to], step.piece.shape.item.name, back
