"""Turning pieces a little where any turn is allowed, judged by the independent check."""

import numpy as np
import pytest

from nesting.check import check_layout
from nesting.geometry.region import Region
from nesting.packing.filling import Spot
from nesting.packing.polygons import PolygonEngine
from nesting.packing.problem import Item, Problem, Sheet
from nesting.packing.room import Room
from nesting.packing.shapes import Shapes
from nesting.packing.squeeze import reached
from nesting.packing.stop import Stop
from nesting.packing.twisting import Twisting, as_tried


def quarter(turn: float) -> Region:
    """Make a triangle that is half a square of 40, turned."""
    return Region.polygon([(0, 0), (40, 0), (0, 40)]).moved(turn=turn)


def laid(items: list[Item], sheet: Sheet) -> tuple[Shapes, Room]:
    """Make the shapes of items, and the room of a roll."""
    return Shapes(Problem(tuple(items), (sheet,))), Room(sheet, 1000)


def triangles(count: int, seed: int) -> tuple[Item, ...]:
    """Draw triangles of any turn, some with a gap."""
    rng, items = np.random.default_rng(seed), []
    for k in range(count):
        angles = np.array([0, 2.1, 4.2]) + rng.uniform(0, 1.0, 3)
        points = np.column_stack([np.cos(angles), np.sin(angles)]) * rng.uniform(15, 30)
        items.append(Item(f"t{k}", Region.polygon(points), 1, "any", float(rng.choice([0.0, 2.0]))))
    return tuple(items)


def test_a_leaning_bar_lies_down() -> None:
    """A bar that leans by 4 degrees on a roll ends flat, as low as it is high, to a micrometre."""
    bar = Item("bar", Region.rectangle(80, 10).moved(12, 7), turns="any")
    shapes, room = laid([bar], Sheet(100, None, margin=3))
    leaning = shapes.turned(next(way for way in shapes.all if way.turn == 0), 4.0)
    start = [Spot(leaning, 5, 5)]
    (spot,) = Twisting(room, shapes).shortened(start, Stop(effort=10))
    assert reached([spot]) == pytest.approx(13, abs=2e-3)


@pytest.mark.parametrize("gap", [0.0, 1.5])
def test_two_leaning_triangles_close_up(gap: float) -> None:
    """Two halves of a square, each a few degrees awry, close up side by side."""
    items = [
        Item("left", quarter(0), turns="any", gap=gap),
        Item("right", quarter(180), turns="any", gap=gap),
    ]
    shapes, room = laid(items, Sheet(44, None))
    (left, *_), (right, *_) = ([w for w in ways if w.turn == 0] for ways in shapes.of_item)
    start = [Spot(shapes.turned(left, 3), 2.5, 0), Spot(shapes.turned(right, -4), 44, 52)]
    found = Twisting(room, shapes).shortened(start, Stop(effort=10))
    assert reached(found) <= 40


def test_pieces_of_a_fixed_turn_keep_it() -> None:
    """Beside a piece of any turn, one that may not be turned and a disc are only moved."""
    items = [
        Item("free", quarter(10), turns="any"), Item("fixed", quarter(0), turns=(0,)),
        Item("disc", Region.circle(20), turns="any"),
    ]  # fmt: skip
    shapes, room = laid(items, Sheet(60, None))
    free, fixed, disc = (ways[0] for ways in shapes.of_item)
    start = [Spot(free, 10, 100), Spot(fixed, 5, 30), Spot(disc, 30, 200)]
    found = Twisting(room, shapes).shortened(start, Stop(effort=10))
    assert reached(found) < reached(start)
    assert [spot.shape for spot in found[1:]] == [fixed, disc]


def test_pieces_that_only_turning_parts_settle_on_a_sheet() -> None:
    """A sheet as wide as a bar is long takes a disc beside it only once the leaning bar is straight."""
    items = [Item("bar", Region.rectangle(80, 10), turns="any"), Item("disc", Region.circle(20), turns="any")]
    sheet = Sheet(80.2, 30.02)
    shapes, room = laid(items, sheet)
    bar = shapes.turned(next(way for way in shapes.of_item[0] if way.turn == 0), 0.1)
    spots = [Spot(bar, 0.03, 0), Spot(shapes.of_item[1][0], 30, 20.02)]
    found = Twisting(room, shapes).settled(spots, 2.0, Stop(effort=10))
    assert found is not None
    assert max(spot.y + spot.shape.bounds[3] for spot in found) <= 30.02 + 1e-3


def test_a_piece_that_reaches_beyond_the_edge_may_go_on_doing_so() -> None:
    """Beside a bar that has to lie down, a cup whose handle sticks out of the sheet does not stop it."""
    items = [
        Item("cup", Region.rectangle(30, 60), turns=(0,), edge=Region.rectangle(30, 40)),
        Item("block", Region.rectangle(60, 30), turns=(0,)),
        Item("bar", Region.rectangle(60, 10), turns="any"),
    ]
    shapes, room = laid(items, Sheet(100, 40.02))
    bar = shapes.turned(next(way for way in shapes.of_item[2] if way.turn == 0), 0.1)
    spots = [Spot(shapes.all[0], 0, 0), Spot(shapes.all[1], 35, 0), Spot(bar, 35, 29.9)]
    found = Twisting(room, shapes).settled(spots, 2.0, Stop(effort=5))
    assert found is not None
    assert abs((found[2].shape.turn + 180) % 360 - 180) < 0.03


def test_a_bar_that_fits_only_straight_is_never_turned_out_of_the_sheet() -> None:
    """On a roll as wide as the bar is long, turning it is given up and the layout stays."""
    items = [Item("bar", Region.rectangle(80, 10), turns="any"), Item("t", quarter(20), turns="any")]
    shapes, room = laid(items, Sheet(80, None))
    bar = next(way for way in shapes.of_item[0] if way.bounds[3] - way.bounds[1] < 11)
    spots = [Spot(bar, -bar.bounds[0], -bar.bounds[1]), Spot(shapes.of_item[1][0], 40, 60)]
    found = Twisting(room, shapes).shortened(spots, Stop(effort=5))
    assert reached(found) < reached(spots)
    assert all(room.positions(spot.shape) for spot in found)


def test_turned_pieces_stand_for_the_nearest_way_that_is_tried() -> None:
    """In a search on few turns a turned piece keeps its middle and takes the nearest of them."""
    shapes, _ = laid([Item("t", quarter(10), 1, turns="any")], Sheet(200, None))
    for way in shapes.all[:]:
        spot = Spot(shapes.turned(way, 3.0), 50, 60)
        (tried,) = as_tried([spot], shapes)
        assert tried.shape is way
        assert shapes.ways(spot.shape) is shapes.ways(way)
        middle, there = (
            np.add(np.reshape(s.shape.bounds, (2, 2)).mean(axis=0), (s.x, s.y)) for s in (spot, tried)
        )
        assert there == pytest.approx(middle)


@pytest.mark.parametrize("seed", range(3))
def test_random_triangles_fill_sheets_soundly(seed: int) -> None:
    """On sheets triangles of any turn all find a place, the check accepting it."""
    items = triangles(10, seed)
    problem = Problem(items, (Sheet(60, 60, margin=1),))
    layout = PolygonEngine().pack(problem, Stop(effort=0.6), seed, lambda _: None)
    assert not layout.unplaced
    assert not check_layout(layout).violations, str(check_layout(layout))


@pytest.mark.parametrize("seed", range(3))
def test_random_triangles_of_any_turn_lie_soundly(seed: int) -> None:
    """On a roll with a keep-out, triangles end at turns that no sampling has, the check accepting them."""
    items = triangles(6, seed)
    sheet = Sheet(90, None, margin=1, keep_outs=(Region.circle(20).moved(30, 30),))
    layout = PolygonEngine().pack(Problem(items, (sheet,)), Stop(effort=0.8), seed, lambda _: None)
    assert not check_layout(layout).violations, str(check_layout(layout))
    sampled = {way.turn for way in Shapes(layout.problem).all}
    assert any(placement.turn not in sampled for placement in layout.placements)
