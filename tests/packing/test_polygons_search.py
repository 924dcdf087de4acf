"""The search on overlap: rasters, exact places, shorter rolls, fewer and cheaper sheets."""

import numpy as np
import pytest
import shapely
from shapely.affinity import translate

from nesting.check import check_layout
from nesting.geometry.region import Region
from nesting.packing.compaction import Compaction
from nesting.packing.concentration import Concentration
from nesting.packing.exchange import Exchange
from nesting.packing.filling import Filling, Spot
from nesting.packing.overlap import OverlapSearch
from nesting.packing.polygons import PolygonEngine
from nesting.packing.problem import Item, Problem, Sheet
from nesting.packing.rasters import Rasters
from nesting.packing.result import Layout
from nesting.packing.room import Room
from nesting.packing.shapes import Shapes
from nesting.packing.stop import Stop

TRIANGLE = Region.polygon([(0, 0), (40, 0), (0, 40)])
ELL = Region.polygon([(0, 0), (30, 0), (30, 10), (10, 10), (10, 30), (0, 30)])
HALF_TURNS = (0, 90, 180, 270)

PLACES = [(0, 0, 0, 0), (1, 0, 2, 1), (3, 0, 50, 50), (2, 1, 1, 2)]
"""Shape, sheet, row and column of some pieces, the first two of which overlap."""


def pack(items: list[Item], sheets: list[Sheet], effort: float, seed: int = 1) -> tuple[Layout, list[Layout]]:
    """Pack, insist on soundness, and give every layout reported on the way."""
    reported: list[Layout] = []
    layout = PolygonEngine().pack(
        Problem(tuple(items), tuple(sheets)), Stop(effort=effort), seed, reported.append
    )
    assert not check_layout(layout).violations, str(check_layout(layout))
    return layout, reported


def test_rasters_tell_overlapping_positions_from_free_ones() -> None:
    """A cell has a depth exactly where shapely finds the two outlines overlapping."""
    shapes = Shapes(Problem((Item("l", ELL, 1, HALF_TURNS), Item("t", TRIANGLE)), (Sheet(200, 200),)))
    rasters = Rasters(shapes, cell=5.0, ease=0.0)
    for static in shapes.all[:4]:
        for orbiting in shapes.all[3:]:
            found = rasters.between(static, orbiting)
            corner = np.subtract(static.bounds[:2], orbiting.bounds[:2])
            for (k, m), depth in np.ndenumerate(found.depth):
                way = corner + 5.0 * np.array([found.column + m, found.row + k])
                shared = static.outline.intersection(translate(orbiting.outline, *way)).area
                assert (depth > 0) == (shared > 1e-6)


def test_depth_counts_steps_out_of_the_region() -> None:
    """In the middle of a thick L the depth is the distance to the nearest free cell, to half a cell."""
    shapes = Shapes(
        Problem((Item("l", ELL, 1, (0,)), Item("dot", Region.rectangle(1, 1))), (Sheet(200, 200),))
    )
    rasters = Rasters(shapes, cell=1.0, ease=0.0)
    found = rasters.between(shapes.all[0], shapes.all[1])
    cells = found.depth / rasters.importance(shapes.all[0], shapes.all[1])
    inside = np.pad(found.depth > 0, 1)
    free = np.argwhere(~inside)
    for k, m in np.argwhere(inside):
        away = np.abs(free - (k, m))
        octagonal = np.maximum(away.max(axis=1), np.ceil(away.sum(axis=1) * 2 / 3)).min()
        assert cells[k - 1, m - 1] == pytest.approx(octagonal - 0.375)


def test_depth_counts_more_between_large_shapes() -> None:
    """Squares of 16, 9 and 1 cm², of which the mean is 8.667: a fourth root of areas, to a quarter."""
    items = tuple(Item(str(side), Region.rectangle(side, side)) for side in (40, 30, 10))
    shapes = Shapes(Problem(items, (Sheet(200, 200),)))
    rasters = Rasters(shapes, 1.0, 0.0)
    found = [[float(rasters.importance(one, other)) for other in shapes.all] for one in shapes.all]
    assert found == [[1.25, 1.25, 0.75], [1.25, 1.0, 0.5], [0.75, 0.5, 0.25]]


def test_depths_measured_agree_with_the_maps() -> None:
    """The depth of each pair of pieces is the entry of its map, and 0 on different sheets."""
    sheet = Sheet(200, 200)
    shapes, rooms = Shapes(Problem((Item("l", ELL, 4, HALF_TURNS),), (sheet,))), [Room(sheet, 0)] * 2
    rasters = Rasters(shapes, 3.0, 0.0)
    where = [(shapes.all[k], sheet, row, column) for k, sheet, row, column in PLACES]
    search = OverlapSearch(rasters, rooms, [200, 200], [shapes.all] * 4, where, np.random.default_rng(1))
    for i, (orbiting, sheet_i, row_i, column_i) in enumerate(where):
        for j, (static, sheet_j, row_j, column_j) in enumerate(where):
            pair = rasters.between(static, orbiting)
            row, column = row_i - row_j - pair.row, column_i - column_j - pair.column
            inside = 0 <= row < pair.depth.shape[0] and 0 <= column < pair.depth.shape[1]
            meet = i != j and sheet_i == sheet_j and inside
            assert search.state.depths[i, j] == (pair.depth[row, column] if meet else 0)


def test_overlapping_pieces_are_pressed_apart_exactly() -> None:
    """Pieces that overlap a little come out clear of one another, by their gap, on the grid."""
    item = Item("l", ELL, 4, HALF_TURNS, gap=2)
    shapes, room = Shapes(Problem((item,), (Sheet(75, 75),))), Room(Sheet(75, 75), 0)
    shape = shapes.all[0]
    rough = [Spot(shape, x, y) for x, y in [(0.3, 0.2), (31, 1), (12.5, 11.0), (43, 32)]]
    found = Compaction(room, shapes, rough, 5).settle(Stop(effort=10))
    assert found is not None
    outlines = [translate(spot.shape.outline, spot.x, spot.y) for spot in found]
    assert all(a.distance(b) >= 2 - 1e-3 for k, a in enumerate(outlines) for b in outlines[:k])
    assert all(shapely.box(0, 0, 75, 75).buffer(1e-3).contains(outline) for outline in outlines)
    assert all(abs(spot.x * 1000 - round(spot.x * 1000)) < 1e-6 for spot in found)


def test_pieces_that_cannot_be_pressed_apart_are_given_up() -> None:
    """Two pieces on a sheet for one have no exact places."""
    item = Item("l", Region.rectangle(30, 30), 2)
    shapes, room = Shapes(Problem((item,), (Sheet(45, 45),))), Room(Sheet(45, 45), 0)
    rough = [Spot(shapes.all[0], 0, 0), Spot(shapes.all[0], 15, 15)]
    assert Compaction(room, shapes, rough, 5).settle(Stop(effort=10)) is None


def test_the_search_drives_out_overlap() -> None:
    """Four triangles heaped in a corner spread into two squares."""
    item = Item("t", TRIANGLE, 4, HALF_TURNS)
    shapes, room = Shapes(Problem((item,), (Sheet(82, 42),))), Room(Sheet(82, 42), 0)
    rasters = Rasters(shapes, 1.0, 0.0)
    where = [(shapes.all[0], 0, 0, 0)] * 4
    search = OverlapSearch(rasters, [room], [42], [shapes.all] * 4, where, np.random.default_rng(1))
    assert search.overlap > 0
    assert search.run(Stop(effort=20), 200)
    spots = rasters.spots(search.where, room)
    outlines = [translate(spot.shape.outline, spot.x, spot.y) for spot in spots]
    assert shapely.union_all(outlines).area == pytest.approx(4 * 800, rel=1e-6)


def test_the_search_keeps_off_obstacles() -> None:
    """A piece that starts on a keep-out leaves it."""
    item, sheet = Item("t", TRIANGLE, 1), Sheet(100, 50, keep_outs=(Region.rectangle(45, 50),))
    shapes, room = Shapes(Problem((item,), (sheet,))), Room(sheet, 0)
    rasters = Rasters(shapes, 1.0, 0.0)
    search = OverlapSearch(
        rasters, [room], [50], [shapes.all], [(shapes.all[0], 0, 0, 0)], np.random.default_rng(1)
    )
    assert search.run(Stop(effort=5), 50)
    assert rasters.spots(search.where, room)[0].x >= 45


def test_a_roll_gets_shorter_than_placing_one_by_one() -> None:
    """Effort shortens the first layout, and every reported layout is better than the one before."""
    items = [Item("l", ELL, 6, HALF_TURNS), Item("t", TRIANGLE, 5, HALF_TURNS)]
    layout, reported = pack(items, [Sheet(85, None)], effort=0.8)
    lengths = [better.used_length for better in reported]
    assert len(lengths) > 1
    assert lengths == sorted(lengths, reverse=True)
    assert layout.used_length == lengths[-1]


def test_a_sheet_is_emptied_when_its_pieces_fit_on_the_others() -> None:
    """Eight triangles that placing one by one spreads over more sheets end on two."""
    layout, _ = pack([Item("t", TRIANGLE, 8, HALF_TURNS)], [Sheet(81, 41)], effort=8.0)
    assert len(layout.sheets) == 2


def test_the_cheaper_of_two_sheets_is_taken() -> None:
    """Where a small cheap sheet holds everything, the large dear one is not used."""
    sheets = [Sheet(200, 200, cost=9.0, name="large"), Sheet(62, 42, cost=3.0, name="small")]
    layout, _ = pack([Item("l", ELL, 2, HALF_TURNS)], sheets, effort=4.0)
    assert [sheet.name for sheet in layout.sheets] == ["small"]


def test_more_is_placed_when_the_stock_is_short() -> None:
    """On the one sheet there is, the search finds room for all four triangles."""
    layout, _ = pack([Item("t", TRIANGLE, 4, HALF_TURNS)], [Sheet(81, 41, quantity=1)], effort=8.0)
    assert not layout.unplaced


def test_the_emptiest_sheet_is_emptied_piece_by_piece() -> None:
    """Each step keeps all pieces, and what it does not keep on the emptiest sheet lies on another."""
    item = Item("t", TRIANGLE, 9, HALF_TURNS, gap=0)
    problem = Problem((item, Item("l", ELL, 3, HALF_TURNS)), (Sheet(90, 60),))
    shapes, room = Shapes(problem), Room(Sheet(90, 60), 0)
    triangle, ell = shapes.of_item[0][0], shapes.of_item[1][0]
    fillings = [
        Filling(room, shapes, [Spot(triangle, 0, 0), Spot(triangle, 45, 0)]),
        Filling(room, shapes, [Spot(triangle, 0, 0), Spot(triangle, 45, 0), Spot(ell, 12, 30)]),
        Filling(room, shapes, [Spot(ell, 0, 0), Spot(ell, 35, 0)]),
    ]
    concentration = Concentration(Exchange(shapes, 1.5, np.random.default_rng(1)), np.random.default_rng(1))
    stop, emptiest = Stop(effort=20), min(filling.area for filling in fillings)
    while len(fillings) > 2 and not stop.reached:
        found = concentration.step(fillings, stop)
        if found is None:
            continue
        names = sorted(spot.shape.item.name for filling in found for spot in filling.spots)
        assert names == ["l"] * 3 + ["t"] * 4
        assert len(found) < 3 or min(filling.area for filling in found) < emptiest
        emptiest = min(filling.area for filling in found)
        fillings = found
    assert len(fillings) == 2
    for filling in fillings:
        outlines = [translate(spot.shape.outline, spot.x, spot.y) for spot in filling.spots]
        assert shapely.union_all(outlines).area == pytest.approx(filling.area, abs=0.1)


def test_sides_that_look_alike_leave_the_furthest() -> None:
    """Of the many hulls of two combs only the sides furthest out ask anything of their pair."""
    teeth = [(50, 20), (50, 5), (40, 5), (40, 20), (30, 20), (30, 5), (20, 5), (20, 20), (10, 20), (10, 5)]
    comb = Region.polygon([(0, 0), (60, 0), (60, 20), *teeth, (0, 5)])
    item = Item("comb", comb, 2, turns=(0,))
    shapes, room = Shapes(Problem((item,), (Sheet(200, 200),))), Room(Sheet(200, 200), 0)
    rough = [Spot(shapes.all[0], 0, 0), Spot(shapes.all[0], 30, 16)]
    compaction = Compaction(room, shapes, rough, 5)
    at = np.array([(spot.x, spot.y) for spot in rough])
    owners, normals, _ = compaction._sides(compaction._near(at, 10), at)
    assert len(np.unique(np.round(np.column_stack([owners, normals]), 6), axis=0)) == len(owners)


@pytest.mark.parametrize("sheet", [Sheet(85, None), Sheet(81, 60)], ids=["roll", "sheets"])
def test_effort_and_seed_fix_the_result(sheet: Sheet) -> None:
    """Two searches with the same effort and seed agree to the last placement."""
    items = [Item("l", ELL, 6, HALF_TURNS, gap=1), Item("t", TRIANGLE, 5, HALF_TURNS)]
    first, second = (pack(items, [sheet], effort=0.3, seed=3)[0] for _ in range(2))
    assert first.placements == second.placements


def test_cancelling_ends_with_the_best_so_far() -> None:
    """A search cancelled after the second report gives that layout."""
    reported: list[Layout] = []
    items = (Item("l", ELL, 6, HALF_TURNS), Item("t", TRIANGLE, 5, HALF_TURNS))
    stop = Stop(effort=100.0, cancelled=lambda: len(reported) >= 2)
    layout = PolygonEngine().pack(Problem(items, (Sheet(85, None),)), stop, 1, reported.append)
    assert len(reported) == 2
    assert layout.placements == reported[-1].placements


def test_a_single_piece_on_a_roll_ends_at_once() -> None:
    """A roll as short as its highest piece cannot get shorter, so the search ends with effort left."""
    stop = Stop(effort=1e6)
    problem = Problem((Item("t", TRIANGLE, 1, HALF_TURNS),), (Sheet(85, None, margin=2),))
    layout = PolygonEngine().pack(problem, stop, 1, lambda _: None)
    assert layout.used_length == pytest.approx(44)
    assert stop.spent < 1e3
