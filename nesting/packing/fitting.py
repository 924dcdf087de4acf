"""What is known of one sheet's room: pocket counts that fit, pocket counts that do not, and limits."""

import math
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace

from nesting.packing import bounds, boxes
from nesting.packing.packer import Packer
from nesting.packing.problem import Item, Problem, Sheet
from nesting.packing.result import Placement

Counts = tuple[int, ...]
"""Pockets of each item, in the order of the items."""


SCALE = 1_000_000
"""A sheet's room in whole numbers."""


@dataclass(frozen=True)
class Fitted:
    """Pockets that lie on a sheet of a kind, known by its index."""

    sheet: int
    counts: Counts
    placements: tuple[Placement, ...]


@dataclass(frozen=True)
class Failed:
    """Counts that found no place on a sheet of a kind; `proven` if there can be none."""

    sheet: int
    counts: Counts
    proven: bool


class Fitting:
    """Asks packing whether pockets fit on one sheet, and remembers every answer.

    Attributes
    ----------
    items, sheets
        What pockets are for, and the kinds of sheet.
    known, failed
        Every answer so far.
    most
        By sheet and item, limits on the pockets; 0 for items that are kept off.
    """

    def __init__(
        self, items: Sequence[Item], sheets: Sequence[Sheet], packer: Packer, kept_off: Collection[str] = ()
    ) -> None:
        self.items, self.sheets, self.packer = tuple(items), tuple(sheets), packer
        self.known: list[Fitted] = []
        self.failed: list[Failed] = []
        gap = max(item.gap for item in items)
        self.areas = [bounds.grown_area(item) for item in items]
        self.rooms = [bounds.usable_area(sheet, gap) for sheet in sheets]
        self.most = [
            [0 if item.name in kept_off else self._most(item, sheet) for item in items] for sheet in sheets
        ]

    def shares(self, sheet: int) -> list[int]:
        """Area of a pocket of each item as a share of a sheet's room, `SCALE` for all of it, rounded down."""
        return [share_of(area, self.rooms[sheet]) for area in self.areas]

    def maximal(self, sheet: int, most: int) -> list[Counts]:
        """List all counts within a sheet's limits to which nothing can be added; none if more than `most`."""
        shares, found, seen = self.shares(sheet), list[Counts](), 0

        def extend(k: int, room: int, counts: Counts) -> bool:
            nonlocal seen
            if k == len(shares):
                seen += 1
                full = all(
                    n == limit or share > room
                    for n, limit, share in zip(counts, self.most[sheet], shares, strict=True)
                )
                if full:
                    found.append(counts)
                return len(found) <= most and seen <= 50 * most
            top = min(self.most[sheet][k], room // shares[k] if shares[k] else self.most[sheet][k])
            return all(extend(k + 1, room - n * shares[k], (*counts, n)) for n in range(top, -1, -1))

        return found if extend(0, SCALE, ()) else []

    def learn(self, sheet: int, placements: Iterable[Placement]) -> Fitted:
        """Remember what lies on a sheet."""
        lying = tuple(replace(placement, sheet=0) for placement in placements)
        names = [placement.item for placement in lying]
        fitted = Fitted(sheet, tuple(names.count(item.name) for item in self.items), lying)
        if not any(k.sheet == sheet and k.counts == fitted.counts for k in self.known):
            self.known.append(fitted)
        return fitted

    def ask(self, sheet: int, counts: Counts, share: float) -> Fitted | None:
        """Find places for so many pockets with a share of the time left; None if that fails."""
        for known in self.known:
            if known.sheet == sheet and _covers(known.counts, counts):
                return self._thinned(known, counts)
        if any(f.sheet == sheet and _covers(counts, f.counts) for f in self.failed):
            return None
        items = [replace(i, quantity=n) for i, n in zip(self.items, counts, strict=True) if n]
        alone = Problem(tuple(items), (replace(self.sheets[sheet], quantity=None, cost=None),))
        if bounds.spent_bound(alone).value > 1:
            self.failed.append(Failed(sheet, counts, proven=True))
            return None
        # of rectangles it can be proven that they need a second sheet, if they may have one
        several = boxes.refusal(alone) is None
        layout = self.packer(items, [replace(alone.sheets[0], quantity=None if several else 1)], share, 1)
        learnt = [self.learn(sheet, layout.on_sheet(k)) for k in range(len(layout.sheets))]
        if len(learnt) != 1 or layout.unplaced:
            proven = layout.proven if layout.unplaced else layout.bound > 1
            self.failed.append(Failed(sheet, counts, proven))
            return None
        return learnt[0]

    def _thinned(self, known: Fitted, counts: Counts) -> Fitted:
        """Leave out pockets that are not wanted, those farthest from the corner at (0, 0) first."""
        left = {item.name: n for item, n in zip(self.items, counts, strict=True)}
        kept = []
        for placement in sorted(known.placements, key=lambda p: (p.x + p.y, p.x)):
            if left[placement.item]:
                left[placement.item] -= 1
                kept.append(placement)
        return Fitted(known.sheet, counts, tuple(kept))

    def _most(self, item: Item, sheet: Sheet) -> int:
        """Limit how many pockets for one item are of use: no more than a sheet holds, nor than units."""
        room = math.floor(bounds.usable_area(sheet, item.gap) / bounds.grown_area(item) + 1e-9)
        many = min(room, item.quantity)
        if many < 1:
            return 0
        alone = Problem((replace(item, quantity=many),), (replace(sheet, quantity=1, cost=None),))
        return int(bounds.placed_bound(alone).value + 1e-9)


def share_of(area: float, room: float) -> int:
    """Round an area's share of a room down, so that a limit stays one.

    What only binary fractions make smaller than a whole number counts as whole.
    """
    return int(area / room * SCALE + 1e-3) if room > 0 else SCALE + 1


def _covers(larger: Counts, smaller: Counts) -> bool:
    return all(a >= b for a, b in zip(larger, smaller, strict=True))
