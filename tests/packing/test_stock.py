"""Sheets of several sizes, limited quantities and costs: what is spent, beside every choice there is."""

from collections import Counter
from itertools import product

import numpy as np
import pytest

from nesting.check import check_layout
from nesting.geometry.region import Region
from nesting.packing import filled_sheets
from nesting.packing.filled_sheets import FilledSheets
from nesting.packing.filling import Filling, Spot
from nesting.packing.polygons import PolygonEngine
from nesting.packing.problem import Item, Problem, Sheet
from nesting.packing.result import Layout
from nesting.packing.room import Room
from nesting.packing.shapes import Shapes
from nesting.packing.stop import Stop

HALF = Item("half", Region.polygon([(0, 0), (40, 0), (0, 40)]), 1, turns=(0, 180))
"""Half a square of 40: two of them fill it, so that a sheet holds as many as its area does."""


def halves(count: int) -> Item:
    """Ask for so many halves of a square."""
    return Item("half", HALF.footprint, count, HALF.turns)


def stock(wide: int, high: int, cost: float | None, quantity: int | None = None) -> Sheet:
    """Make a sheet of so many squares of 40, with a little play."""
    return Sheet(40 * wide + 1, 40 * high + 1, quantity, cost=cost, name=f"{wide} by {high}")


def pack(items: list[Item], sheets: list[Sheet], effort: float = 4.0) -> Layout:
    """Pack and insist that the independent check finds nothing."""
    layout = PolygonEngine().pack(
        Problem(tuple(items), tuple(sheets)), Stop(effort=effort), 1, lambda _: None
    )
    assert not check_layout(layout).violations, str(check_layout(layout))
    return layout


def cheapest(count: int, sheets: list[Sheet]) -> float:
    """Try all ways to take sheets that have the area of so many halves, as far as stock goes."""
    holds = [2 * round(sheet.width // 40) * round((sheet.height or 0) // 40) for sheet in sheets]
    most = [min(sheet.quantity or count, count) for sheet in sheets]
    return min(
        sum(n * (sheet.cost or 0.0) for n, sheet in zip(taken, sheets, strict=True))
        for taken in product(*(range(n + 1) for n in most))
        if sum(n * held for n, held in zip(taken, holds, strict=True)) >= count
    )


def test_two_offcuts_are_cheaper_than_a_large_sheet() -> None:
    """The large sheet is the cheapest by area, yet two offcuts together cost less."""
    sheets = [stock(4, 3, 10.0), stock(2, 1, 3.0, 2)]
    layout = pack([halves(8)], sheets)
    assert [sheet.name for sheet in layout.sheets] == ["2 by 1", "2 by 1"]


def test_one_large_sheet_is_cheaper_than_many_offcuts() -> None:
    """Where three offcuts hold everything for more than one large sheet costs, that one is taken."""
    sheets = [stock(2, 1, 4.0, 5), stock(3, 2, 10.0)]
    layout = pack([halves(11)], sheets)
    assert [sheet.name for sheet in layout.sheets] == ["3 by 2"]


def test_two_small_sheets_give_way_to_a_large_one() -> None:
    """Where sheets have no cost, their number is what counts."""
    assert len(pack([halves(12)], [stock(2, 1, None), stock(3, 2, None)]).sheets) == 1


@pytest.mark.parametrize("seed", range(8))
def test_costs_are_those_of_a_search_through_all_choices(seed: int) -> None:
    """With random sizes, costs and quantities nothing dearer is taken than the cheapest choice of all."""
    rng = np.random.default_rng(seed)
    sizes = [(1, 1), (2, 1), (2, 2), (3, 1), (3, 2)]
    chosen = [sizes[k] for k in rng.choice(len(sizes), 3, replace=False)]
    sheets = [
        stock(w, h, float(np.round(w * h * rng.uniform(2, 4), 2)), int(rng.integers(2, 5))) for w, h in chosen
    ]
    room = sum(2 * w * h * (sheet.quantity or 0) for (w, h), sheet in zip(chosen, sheets, strict=True))
    count = int(rng.integers(3, min(room, 16)))
    layout = pack([halves(count)], sheets, 8.0)
    assert not layout.unplaced
    assert layout.spent == pytest.approx(cheapest(count, sheets))


def test_the_choice_among_filled_sheets_places_all_within_stock() -> None:
    """Of sheets filled in several searches those are chosen that are cheapest together, none too often."""
    item, other = halves(6), Item("bar", Region.rectangle(40, 10), 1, turns=(0,))
    sheets = (stock(1, 1, 1.0, 1), stock(2, 1, 4.0))
    problem = Problem((item, other), sheets)
    shapes = Shapes(problem)
    small, large = (Room(sheet, 0) for sheet in sheets)
    half, bar = shapes.of_item[0][0], shapes.of_item[1][0]
    fillings = [
        Filling(small, shapes, [Spot(half, 0, 0), Spot(half, 1, 1)]),
        Filling(large, shapes, [Spot(half, 0, 0), Spot(half, 1, 1), Spot(half, 40, 0), Spot(half, 41, 1)]),
        Filling(large, shapes, [Spot(half, 0, 0), Spot(half, 1, 1), Spot(bar, 40, 0)]),
        Filling(small, shapes, [Spot(bar, 0, 0)]),
    ]
    filled = FilledSheets(problem, shapes, [small, large], [])
    filled.add(fillings[1:])
    chosen = filled.choose(fillings[:1], Stop(effort=5.0), 5.0)
    names = sorted(spot.shape.item.name for filling in chosen for spot in filling.spots)
    assert names == ["bar", *["half"] * 6]
    assert sum(filled.cost(filling.room) for filling in chosen) == 8.0


@pytest.mark.parametrize("seed", range(6))
def test_with_a_sheet_less_the_least_area_is_left_over(seed: int) -> None:
    """What the choice for less stock leaves out has no more area than any such choice among all there are."""
    rng = np.random.default_rng(seed)
    sheet = stock(3, 2, None)
    items = (halves(9), Item("bar", Region.rectangle(40, 10), 11, turns=(0,)))
    shapes = Shapes(Problem(items, (sheet,)))
    room, areas = Room(sheet, 0), [ways[0].area for ways in shapes.of_item]
    sets = [(int(rng.integers(0, 5)), int(rng.integers(1, 6))) for _ in range(7)]
    filled = FilledSheets(Problem(items, (sheet,)), shapes, [room], [])
    filled.add([_lying(room, shapes, counts) for counts in sets])
    before = [_lying(room, shapes, counts) for counts in [(3, 4), (3, 4), (3, 3)]]
    nearly = filled.nearly(before, Stop(effort=20.0), 10.0)
    assert nearly is not None
    held = Counter(spot.shape.item.name for filling in nearly for spot in filling.spots)
    least = min(
        (9 - min(9, a[0] + b[0])) * areas[0] + (11 - min(11, a[1] + b[1])) * areas[1]
        for a, b in product([*sets, (0, 0)], repeat=2)
    )
    assert len(nearly) <= 2
    left = (9 - held["half"]) * areas[0] + (11 - held["bar"]) * areas[1]
    assert left == pytest.approx(least, abs=room.area / 1000 * sum((9, 11)))


def _lying(room: Room, shapes: Shapes, counts: tuple[int, ...]) -> Filling:
    """Put so many of each item somewhere; where they lie does not count here."""
    spots = [Spot(ways[0], k, k) for ways, n in zip(shapes.of_item, counts, strict=True) for k in range(n)]
    return Filling(room, shapes, spots)


def test_what_a_choice_begins_from_is_not_let_go(monkeypatch: pytest.MonkeyPatch) -> None:
    """When there are too many filled sheets the oldest go, but none of those that a choice begins from."""
    monkeypatch.setattr(filled_sheets, "_MOST", 4)
    problem = Problem((halves(9),), (stock(3, 2, None),))
    shapes, room = Shapes(problem), Room(problem.sheets[0], 0)
    filled = FilledSheets(problem, shapes, [room], [])
    for n in (8, 1, 2, 3):
        filled.add([_lying(room, shapes, (n,))])
    begun = [_lying(room, shapes, (8,)), _lying(room, shapes, (4,))]
    assert {len(filling.spots) for filling in filled.choose(begun, Stop(effort=5.0), 5.0)} == {8, 1}
    assert filled.added == 5
