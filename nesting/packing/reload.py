"""Sheets that are loaded again and again: fewest sheets first, then fewest loads.

A kind of blank needs one pocket somewhere, so the fewest sheets are those that take one pocket of each
kind. How many pockets more there should be follows from the loads: to mark q units in n loads takes
q / n pockets, rounded up. The search halves the range of n between a limit by area and what is known
to work, and asks packing each time.
"""

import math
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from nesting.packing.bounds import grown_area, usable_area
from nesting.packing.problem import Item, Sheet
from nesting.packing.result import Layout
from nesting.packing.rounds import HeightGroup, fewest_loads, loads_bound, split_rounds
from nesting.packing.stop import Stop

LIKELY_FILL = 0.75
"""Share of a sheet's room that a first try expects packing to fill."""

MOST_TRIES = 14


@dataclass(frozen=True)
class Demand:
    """Items of which `quantity` units each are to be marked, and their groups by height."""

    items: tuple[Item, ...]
    groups: tuple[HeightGroup, ...]

    @property
    def wanted(self) -> dict[str, int]:
        """Units of each item."""
        return {item.name: item.quantity for item in self.items}

    def of(self, counts: Mapping[str, int]) -> "Demand":
        """Ask for other numbers of units; items with none are left out, and groups without items."""
        items = tuple(
            replace(item, quantity=counts[item.name]) for item in self.items if counts.get(item.name)
        )
        names = {item.name for item in items}
        groups = (
            replace(group, blanks=tuple(b for b in group.blanks if b in names)) for group in self.groups
        )
        return Demand(items, tuple(group for group in groups if group.blanks))


@dataclass(frozen=True)
class Loaded:
    """A layout and, for each group, how often each of its sheets is loaded."""

    layout: Layout
    loads: tuple[tuple[int, ...], ...]

    @property
    def total(self) -> int:
        """Loads in all."""
        return sum(map(sum, self.loads))


class Packer:
    """Packing under a limit that several calls share; what it tells is passed on to `progress`."""

    def __init__(
        self, pack: Callable[..., Layout], stop: Stop, seed: int, progress: Callable[[str], object]
    ) -> None:
        self.pack, self.stop, self.seed, self.progress = pack, stop, seed, progress

    def part(self, share: float) -> "Packer":
        """Make one with a share of what is left; `close` it afterwards."""
        return Packer(self.pack, self.stop.part(share), self.seed, self.progress)

    def close(self, part: "Packer") -> None:
        """Count in what a part has spent."""
        self.stop.spend(part.stop.spent)

    def __call__(self, items: Sequence[Item], sheets: Sequence[Sheet], share: float, enough: float) -> Layout:
        """Pack with a share of what is left, until everything lies on no more than `enough` sheets."""
        part = self.stop.part(share)
        done = False

        def listen(layout: Layout) -> None:
            nonlocal done
            done = done or (not layout.unplaced and len(layout.sheets) <= enough)

        layout = self.pack(
            items,
            sheets,
            seconds=max(part.seconds or 0.0, 0.05),
            effort=None if part.effort is None else max(part.effort, 0.01),
            seed=self.seed,
            progress=listen,
            cancelled=lambda: done or self.stop.cancelled(),
        )
        self.stop.spend(part.effort or 0.0)
        return layout


def least_loads(demand: Demand, first: Layout, sheets: Sequence[Sheet], packer: Packer) -> Loaded:
    """Search for the layout on `sheets`, all of which may be used, that needs the fewest loads.

    `first` is a layout with a pocket of each item or more.
    """
    best = loaded(demand, first)
    if best is None:
        raise ValueError("the first layout has no pocket for one of the items")
    low, high = area_bound(demand, sheets, len(sheets)), sum(max(wanted) for wanted in _by_group(demand))
    if len(sheets) == 1:
        high = best.total
    guess = low if len(demand.items) == 1 else _guess(demand, sheets)
    for _ in range(MOST_TRIES):
        if low >= high or packer.stop.reached:
            break
        rounds = min(max(guess, low), high - 1)
        layout = _try(demand, rounds, sheets, packer, 1 / (2 + math.log2(high - low)))
        found = loaded(demand, layout)
        if found is not None and found.total < best.total:
            best = found
            packer.progress(f"sheets: {len(best.layout.sheets)}, loads: {best.total}")
        low, high = (rounds + 1, high) if layout.unplaced else (low, rounds)
        if len(sheets) == 1:
            high = min(high, best.total)
        guess = (low + high) // 2
    return best


def loaded(demand: Demand, layout: Layout) -> Loaded | None:
    """Work out how often a layout's sheets must be loaded; None if an item has no pocket."""
    pockets = [Counter(p.item for p in layout.on_sheet(k)) for k in range(len(layout.sheets))]
    loads = [fewest_loads(pockets, demand.wanted, group) for group in demand.groups] if pockets else [None]
    if any(found is None for found in loads):
        return None
    return Loaded(layout, tuple(tuple(found) for found in loads if found is not None))


def loaded_once(demand: Demand, layout: Layout) -> Loaded | None:
    """Load every sheet once with each group it has pockets for; None if there is no sheet."""
    pockets = [{p.item for p in layout.on_sheet(k)} for k in range(len(layout.sheets))]
    loads = (tuple(int(not on.isdisjoint(group.blanks)) for on in pockets) for group in demand.groups)
    return Loaded(layout, tuple(loads)) if pockets else None


def area_bound(demand: Demand, sheets: Sequence[Sheet], count: int) -> int:
    """Limit the loads from below when `count` sheets are cut, of these kinds."""
    return loads_bound(_areas(demand), demand.wanted, demand.groups, _room(demand, sheets), count)


def one_each(items: Sequence[Item]) -> list[Item]:
    """Ask for one of each item."""
    return [replace(item, quantity=1) for item in items]


def pockets_for(demand: Demand, rounds: Sequence[int]) -> list[Item]:
    """Ask for the pockets that the demand needs when group g is loaded rounds[g] times."""
    often = {name: count for group, count in zip(demand.groups, rounds, strict=True) for name in group.blanks}
    return [replace(item, quantity=math.ceil(item.quantity / often[item.name])) for item in demand.items]


def merged(sheets: Sequence[Sheet]) -> list[Sheet]:
    """Write equal sheets of one piece each as one kind of sheet."""
    return [replace(sheet, quantity=count) for sheet, count in Counter(sheets).items()]


def _try(demand: Demand, rounds: int, sheets: Sequence[Sheet], packer: Packer, share: float) -> Layout:
    return packer(pockets_for(demand, _split(demand, rounds)), merged(sheets), share, len(sheets))


def _split(demand: Demand, rounds: int) -> list[int]:
    areas, wanted = _areas(demand), demand.wanted
    return split_rounds(rounds, [sum(areas[n] * wanted[n] for n in group.blanks) for group in demand.groups])


def _guess(demand: Demand, sheets: Sequence[Sheet]) -> int:
    areas, wanted = _areas(demand), demand.wanted
    covered = [sum(areas[name] * wanted[name] for name in group.blanks) for group in demand.groups]
    room = _room(demand, sheets) * len(sheets) * LIKELY_FILL
    return math.ceil(sum(map(math.sqrt, covered)) ** 2 / room)


def _by_group(demand: Demand) -> list[list[int]]:
    wanted = demand.wanted
    return [[wanted[name] for name in group.blanks] for group in demand.groups]


def _areas(demand: Demand) -> dict[str, float]:
    return {item.name: grown_area(item) for item in demand.items}


def _room(demand: Demand, sheets: Sequence[Sheet]) -> float:
    gap = max(item.gap for item in demand.items)
    return max(usable_area(sheet, gap) for sheet in sheets)
