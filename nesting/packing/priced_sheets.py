"""New filled sheets, drawn by what a linear programme finds dear.

The programme covers all pieces by the sheets filled so far, fractions allowed (Gilmore and Gomory 1961, "A
linear programming approach to the cutting-stock problem", Operations Research 9). A sheet in which its
prices make the pieces worth more than the sheet costs makes the whole cheaper. Such are looked for by
changing a few pieces of a sheet for dearer ones, again and again.
"""

import math
import random
from collections import Counter
from typing import NamedTuple

import numpy as np

from nesting.packing.bounds import grown_area, usable_area
from nesting.packing.exchange import Exchange
from nesting.packing.filled_sheets import FilledSheets, Priced
from nesting.packing.filling import Filling, Spot
from nesting.packing.stop import Stop

_PATIENCE = 15
"""Rounds without less overlap after which a change is given up."""

_USED, _DEAREST = 0.7, 60
"""How often a sheet that the programme uses is changed; else it is one of so many that are worth most."""

_PROPOSALS, _MOST_NEW = 30, 8
"""Of how many changes the one that needs least room is tried, and most pieces that come in one."""

_LEAST_SHARE = 1e-9

_GONE = (0, 0, 1, 1, 1, 1, 2, 2, 3)
"""How many pieces go, with these odds."""

_GAIN = 1.002
"""By how much a sheet must become worth more."""

_TRIES, _AGAIN = 3, 0.02
"""How often the same set of pieces is tried, and the share of a sheet that each time counts for."""

_DRAWS, _CHANCE = 60, 0.3
"""How often a sheet is drawn at most before one more is fixed, and how much chance there is in which one."""

_FAILED = 6
"""After so many changes in a row that found no room another sheet is changed."""

_PER_PROPOSAL = 1e-4
"""Effort of thinking of a change."""

Counts = tuple[int, ...]
"""Pieces of each item, in the order of the items."""


class _Change(NamedTuple):
    """Pieces that go from a sheet, kinds of pieces that come, and what lies there then."""

    gone: list[Spot]
    new: list[int]
    counts: Counts


class PricedSheets:
    """Draws filled sheets into a collection, one small change at a time."""

    def __init__(self, filled: FilledSheets, exchange: Exchange, rng: random.Random) -> None:
        self.filled, self.exchange, self.rng = filled, exchange, rng
        items, rooms = filled.problem.items, filled.rooms
        self._areas = [grown_area(item) for item in items]
        self._room = [usable_area(room.sheet, max(item.gap for item in items)) for room in rooms]
        self._fits = [
            [any(room.positions(way) for way in ways) for ways in exchange.shapes.of_item] for room in rooms
        ]
        self._priced: Priced | None = None
        self._beside: tuple[Filling, ...] = ()
        self._base: Filling | None = None
        self._failed, self._tried = 0, Counter[tuple[int, Counts]]()

    def step(self, stop: Stop, beside: tuple[Filling, ...] = ()) -> bool:
        """Try to fill a sheet with what is worth more beside sheets that stay; False if nothing was tried."""
        priced = self._prices(stop, beside)
        if priced is None:
            return False
        if self._base is None or self._failed >= _FAILED:
            self._base, self._failed = self._chosen(priced), 0
        base = self._base
        change = self._change(base, priced, stop)
        if change is None:
            self._base = None
            return False
        new = [self.exchange.shapes.of_item[k][0] for k in change.new]
        found = self.exchange.done(base, change.gone, new, _PATIENCE, stop)
        key = self.filled.sort(base), change.counts
        if found is None:
            self._tried[key] += 1
            self._failed += 1
        else:
            self._tried[key] = _TRIES
            self._base, self._failed = found, 0
            self.filled.add([found])
        return True

    def fixed(self, budget: float, stop: Stop) -> list[Filling] | None:
        """Take sheets one by one, those that the programme takes most of, as long as the budget holds.

        Beside the sheets taken so far new ones are drawn for the rest, if that is needed. None if the rest
        costs too much in the end.
        """
        taken: tuple[Filling, ...] = ()
        while any(self.filled.left(taken)):
            priced = self._within(budget - sum(self.filled.cost(f.room) for f in taken), taken, stop)
            if priced is None:
                return None
            chances = [share * (1 + _CHANCE * self.rng.random()) for share in priced.relaxed.shares.tolist()]
            if max(chances) < _LEAST_SHARE:
                break  # what is left stays unplaced
            best = priced.sheets[chances.index(max(chances))]
            taken = (*taken, *self.filled.trimmed([best], taken))
        return list(taken)

    def _within(self, budget: float, taken: tuple[Filling, ...], stop: Stop) -> Priced | None:
        """Draw sheets until what is left to be placed costs no more than the budget."""
        for _ in range(_DRAWS):
            priced = self._prices(stop, taken, at_once=True)
            if priced is None or stop.reached:
                return None
            if priced.relaxed.cost <= budget:
                return priced
            self.step(stop, taken)
        return None

    def _prices(self, stop: Stop, beside: tuple[Filling, ...], at_once: bool = False) -> Priced | None:
        """Give the prices, made anew after some new filled sheets or each single one."""
        if self._beside != beside:
            self._priced, self._beside, self._base = None, beside, None
        known = self._priced
        if (
            known is None
            or self.filled.many_since(known.added)
            or (at_once and self.filled.added > known.added)
        ):
            self._priced = self.filled.priced(stop, beside)
        return self._priced

    def _chosen(self, priced: Priced) -> Filling:
        """Choose a sheet to change: mostly one that the programme uses, or one that is worth much."""
        used: list[int] = np.flatnonzero(priced.relaxed.shares > _LEAST_SHARE).tolist()
        if not used or self.rng.random() >= _USED:
            gains = priced.counts @ priced.relaxed.prices - priced.costs[priced.sorts]
            used = np.argsort(-gains, kind="stable")[:_DEAREST].tolist()
        chosen = priced.sheets[self.rng.choice(used)]
        held = self.filled.trimmed([chosen], self._beside)
        return held[0] if held else Filling(chosen.room, self.exchange.shapes)

    def _change(self, base: Filling, priced: Priced, stop: Stop) -> _Change | None:
        """Of some changes by chance that make a sheet worth more, give the one that needs least room."""
        sort, kinds = self.filled.sort(base), [self.filled.kind(spot) for spot in base.spots]
        there = priced.sorts == sort
        left = self.filled.left(self._beside)
        prices, known = priced.relaxed.prices.tolist(), priced.counts[there]
        odds = [price**2 / area for price, area in zip(prices, self._areas, strict=True)]
        goal = _GAIN * max(float(priced.costs[sort]), sum(prices[k] for k in kinds))
        best, least = None, math.inf
        for _ in range(_PROPOSALS):
            stop.spend(_PER_PROPOSAL)
            leaving = self.rng.sample(range(len(kinds)), min(self.rng.choice(_GONE), len(kinds)))
            held = Counter(kinds)
            held.subtract(kinds[i] for i in leaving)
            new = self._dearer(sort, held, left, prices, odds, goal)
            if new is None:
                continue
            counts = tuple(held[k] for k in range(len(prices)))
            tried = self._tried[sort, counts]
            needed = self._area(held) / self._room[sort] + _AGAIN * tried
            if needed < least and tried < _TRIES and not (known >= counts).all(axis=1).any():
                best, least = _Change([base.spots[i] for i in leaving], new, counts), needed
        return best

    def _dearer(
        self,
        sort: int,
        held: Counter[int],
        left: list[int],
        prices: list[float],
        odds: list[float],
        goal: float,
    ) -> list[int] | None:
        """Add kinds by chance, rather those worth much for their area, till a goal; None if it is missed."""
        new: list[int] = []
        worth, area = sum(prices[k] * n for k, n in held.items()), self._area(held)
        while worth < goal:
            fitting = [
                k
                for k, odd in enumerate(odds)
                if odd > 0
                and held[k] < left[k]
                and self._fits[sort][k]
                and area + self._areas[k] <= self._room[sort]
            ]
            if not fitting or len(new) == _MOST_NEW:
                return None
            k = self.rng.choices(fitting, [odds[k] for k in fitting])[0]
            new.append(k)
            held[k] += 1
            worth, area = worth + prices[k], area + self._areas[k]
        return new

    def _area(self, held: Counter[int]) -> float:
        return sum(self._areas[k] * n for k, n in held.items())
