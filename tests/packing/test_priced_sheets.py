"""Filled sheets drawn by prices: the programme behind them, and what is drawn."""

import random
from collections import Counter

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.affinity import translate

from nesting.geometry.region import Region
from nesting.packing.covering import covering, relaxed
from nesting.packing.exchange import Exchange
from nesting.packing.filled_sheets import FilledSheets
from nesting.packing.filling import Filling, Spot
from nesting.packing.priced_sheets import PricedSheets
from nesting.packing.problem import Item, Problem, Sheet
from nesting.packing.room import Room
from nesting.packing.shapes import Shapes
from nesting.packing.stop import Stop

WORTH = 50.0
ELL = Region.polygon([(0, 0), (30, 0), (30, 10), (10, 10), (10, 30), (0, 30)])


@st.composite
def choices(draw: st.DrawFn) -> tuple[list[int], list[tuple[int, float]], list[tuple[int, list[int]]]]:
    """Draw what is wanted of some kinds, the stock, and filled sheets by sort and counts."""
    kinds, sorts = draw(st.integers(1, 4)), draw(st.integers(1, 3))
    wanted = draw(st.lists(st.integers(0, 6), min_size=kinds, max_size=kinds).filter(any))
    stock = [(draw(st.integers(1, 8)), float(draw(st.integers(1, 9)))) for _ in range(sorts)]
    row = st.lists(st.integers(0, 3), min_size=kinds, max_size=kinds).filter(any)
    return wanted, stock, draw(st.lists(st.tuples(st.integers(0, sorts - 1), row), min_size=1, max_size=8))


@settings(max_examples=200, deadline=None)
@given(choices())
def test_a_choice_with_fractions_costs_what_its_prices_say(
    choice: tuple[list[int], list[tuple[int, float]], list[tuple[int, list[int]]]],
) -> None:
    """It keeps to the stock, costs what its prices prove, and no more than a choice without fractions."""
    wanted, stock, filled = choice
    sorts, counts = np.array([sort for sort, _ in filled]), np.array([row for _, row in filled])
    found = relaxed(np.array(wanted), stock, sorts, counts, WORTH, Stop(effort=10.0))
    assert found is not None
    short = np.maximum(np.array(wanted) - found.shares @ counts, 0.0)
    spent = sum(share * stock[sort][1] for share, sort in zip(found.shares, sorts, strict=True))
    assert found.cost == pytest.approx(spent + WORTH * short.sum(), abs=1e-5)
    for sort, (quantity, cost) in enumerate(stock):
        assert found.shares[sorts == sort].sum() <= quantity + 1e-6
        assert (counts[sorts == sort] @ found.prices <= cost + found.scarcity[sort] + 1e-6).all()
    assert (found.prices <= WORTH + 1e-6).all()
    saved = sum(quantity * worth for (quantity, _), worth in zip(stock, found.scarcity, strict=True))
    assert found.cost == pytest.approx(float(found.prices @ wanted) - saved, abs=1e-5)
    rows = [(sort, tuple((k, c) for k, c in enumerate(row) if c)) for sort, row in filled]
    whole = covering(wanted, stock, rows, [WORTH] * len(wanted), Stop(effort=10.0), 5.0)
    assert whole is not None
    placed = sum((Counter(dict(rows[n][1])) for n in whole), Counter[int]())
    missing = sum(max(count - placed[k], 0) for k, count in enumerate(wanted))
    assert sum(stock[rows[n][0]][1] for n in whole) + WORTH * missing >= found.cost - 1e-5


def beginning(problem: Problem, starts: list[list[int]]) -> tuple[FilledSheets, PricedSheets]:
    """Begin with one piece of some kinds alone on each sheet."""
    shapes = Shapes(problem)
    rooms = [Room(sheet, 0) for sheet in problem.sheets]
    filled = FilledSheets(problem, shapes, rooms, [])
    for room, kinds in zip(rooms, starts, strict=True):
        for k in kinds:
            way = shapes.of_item[k][0]
            filled.add([Filling(room, shapes, [Spot(way, *(np.subtract(room.extent[:2], way.bounds[:2])))])])
    return filled, PricedSheets(filled, Exchange(shapes, 1.5, np.random.default_rng(1)), random.Random(1))


def assert_sound(fillings: list[Filling]) -> None:
    """Insist that nothing overlaps or sticks out."""
    for filling in fillings:
        outlines = [translate(spot.shape.outline, spot.x, spot.y) for spot in filling.spots]
        assert shapely.union_all(outlines).area == pytest.approx(filling.area, abs=0.1)
        assert all(shapely.box(*filling.room.extent).buffer(0.002).covers(outline) for outline in outlines)


def drawn(problem: Problem, starts: list[list[int]], steps: int) -> tuple[FilledSheets, float]:
    """Draw sheets, beginning with one piece alone on each, and give what the programme costs at last."""
    filled, priced = beginning(problem, starts)
    stop = Stop(effort=300.0)
    for _ in range(steps):
        priced.step(stop)
    found = filled.priced(stop)
    assert found is not None
    assert_sound(found.sheets)
    for filling, row in zip(found.sheets, found.counts, strict=True):
        assert Counter(spot.shape.item.name for spot in filling.spots) == Counter(
            {item.name: count for item, count in zip(problem.items, row.tolist(), strict=True) if count}
        )
        assert all(row <= np.array([item.quantity for item in problem.items]))
    return filled, found.relaxed.cost


def test_what_is_drawn_makes_the_whole_as_cheap_as_can_be() -> None:
    """Halves of squares come to lie as many on a sheet as its area holds, from one alone on each."""
    half = Item("half", Region.polygon([(0, 0), (40, 0), (0, 40)]), 24, turns=(0, 180))
    _, cost = drawn(Problem((half,), (Sheet(81, 81),)), [[0]], 200)
    assert cost == pytest.approx(24 / 8)


def test_kinds_that_leave_each_other_room_come_to_lie_together() -> None:
    """Of Ls no more than two fit a sheet, squares beside them cost nothing, and each began alone."""
    items = (
        Item("l", Region.polygon([(0, 0), (40, 0), (40, 20), (20, 20), (20, 40), (0, 40)]), 10, (0, 180)),
        Item("square", Region.rectangle(20, 20), 15, (0,)),
    )
    _, cost = drawn(Problem(items, (Sheet(61, 61),)), [[0, 1]], 300)
    assert cost == pytest.approx(5)


def test_the_cheaper_stock_is_drawn_on_as_far_as_it_goes() -> None:
    """Sheets at half the price are filled, too, and so many dear ones remain as the area needs."""
    half = Item("half", Region.polygon([(0, 0), (40, 0), (0, 40)]), 24, turns=(0, 180))
    sheets = (Sheet(81, 81, cost=8.0), Sheet(81, 41, 2, cost=2.0))
    _, cost = drawn(Problem((half,), sheets), [[0], [0]], 400)
    assert cost == pytest.approx(2 * 2.0 + (24 - 8) / 8 * 8.0)


def test_no_set_of_pieces_is_kept_twice() -> None:
    """However often sheets are filled, there is one for each number of Ls, and all three fit one."""
    item = Item("l", ELL, 3, (0, 90, 180, 270))
    filled, cost = drawn(Problem((item,), (Sheet(100, 100),)), [[0]], 60)
    assert filled.added <= 3
    assert cost == pytest.approx(1.0)


def test_sheets_are_fixed_one_by_one_till_all_is_placed() -> None:
    """Within the least that all can cost every piece is placed once; within less there is nothing."""
    items = (
        Item("half", Region.polygon([(0, 0), (40, 0), (0, 40)]), 20, turns=(0, 180)),
        Item("bar", Region.rectangle(40, 10), 5, turns=(0,)),
    )
    sheets = (Sheet(81, 81, cost=8.0), Sheet(81, 41, 2, cost=3.0))
    filled, priced = beginning(Problem(items, sheets), [[0, 1], [0, 1]])
    stop = Stop(effort=300.0)
    for _ in range(300):
        priced.step(stop)
    # two halves or four bars take a square: twelve squares are wanted, and these sheets have four and two
    assert priced.fixed(2 * 8.0 + 3.0, stop) is None
    found = priced.fixed(2 * 8.0 + 2 * 3.0 + 1e-6, stop)
    assert found is not None
    assert sum(filled.cost(filling.room) for filling in found) <= 22.0
    assert_sound(found)
    placed = Counter(spot.shape.item.name for filling in found for spot in filling.spots)
    assert placed == {"half": 20, "bar": 5}


def test_what_finds_no_room_in_the_stock_is_left_out() -> None:
    """With one sheet of four halves for nine, those left over do not keep it from being taken."""
    half = Item("half", Region.polygon([(0, 0), (40, 0), (0, 40)]), 9, turns=(0, 180))
    _, priced = beginning(Problem((half,), (Sheet(81, 41, 1),)), [[0]])
    stop = Stop(effort=300.0)
    for _ in range(100):
        priced.step(stop)
    found = priced.fixed(1e6, stop)
    assert found is not None
    assert [len(filling.spots) for filling in found] == [4]
