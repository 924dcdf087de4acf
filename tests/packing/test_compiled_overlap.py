"""The compiled rounds of the search on overlap, held against maps read entry by entry."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.geometry.region import Region
from nesting.packing import overlap
from nesting.packing.compiled_overlap import OBSTACLE, PAUSED, add_up, measure, rounds
from nesting.packing.overlap import OverlapSearch
from nesting.packing.problem import Item, Problem, Sheet
from nesting.packing.rasters import DepthMap, Rasters
from nesting.packing.room import Room
from nesting.packing.shapes import Shapes

ELL = Region.polygon([(0, 0), (30, 0), (30, 10), (10, 10), (10, 30), (0, 30)])
TRIANGLE = Region.polygon([(0, 0), (40, 0), (0, 40)])


def searching(seed: int) -> tuple[OverlapSearch, Rasters, Room]:
    """Strew six pieces and random weights over two sheets with a keep-out."""
    sheet = Sheet(90, 80, keep_outs=(Region.rectangle(12, 9).moved(40, 30),))
    items = (Item("l", ELL, 3, (0, 90)), Item("t", TRIANGLE, 3, (0, 180)))
    shapes, room, rng = Shapes(Problem(items, (sheet,))), Room(sheet, 0), np.random.default_rng(seed)
    rasters = Rasters(shapes, 2.0, 0.5)
    ways = [shapes.of_item[k] for k in (0, 0, 0, 1, 1, 1)]
    where = [
        (taken[rng.integers(2)], int(rng.integers(2)), int(rng.integers(40)), int(rng.integers(45)))
        for taken in ways
    ]
    search = OverlapSearch(rasters, [room, room], [80, 80], ways, where, rng)
    for static in shapes.all:
        for orbiting in shapes.all:
            rasters.between(static, orbiting)
    weights = rng.uniform(1, 9, (6, 6))
    search.state.weights[:] = weights + weights.T
    return search, rasters, room


def entry(found: DepthMap, row: int, column: int) -> float:
    """Read a map where it has an entry; 0 elsewhere."""
    k, m = row - found.row, column - found.column
    inside = 0 <= k < found.depth.shape[0] and 0 <= m < found.depth.shape[1]
    return float(found.depth[k, m]) if inside else 0.0


@pytest.mark.parametrize("few", [0, 6])
@given(st.integers(0, 10_000))
@settings(max_examples=15, deadline=None)
def test_costs_are_the_weighted_depths_at_every_position(few: int, seed: int) -> None:
    """A cell of a grid is what one adds up by hand from maps, with and without fields, and after a move."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(overlap, "FEW", few)
        search, rasters, room = searching(seed)
    assert (search.state.fields.size > 0) == (few == 0)
    i, moved = seed % 6, (seed + 1 + seed // 7 % 5) % 6
    check_costs(search, rasters, room, i, seed % 2)
    search.state.at[moved, 1:] = 1 - search.state.at[moved, 1], 3, 4
    measure(search.board, search.state, moved)
    for sheet in range(2):
        check_costs(search, rasters, room, i, sheet)


def check_costs(search: OverlapSearch, rasters: Rasters, room: Room, i: int, sheet: int) -> None:
    """Hold a piece's costs on a sheet, in every way it may lie, against sums of single entries."""
    shapes, state = rasters.shapes, search.state
    for way in shapes.ways(shapes.all[int(state.at[i, 0])]):
        others = [(j, at) for j, at in enumerate(search.where) if j != i and at[1] == sheet]
        maps = [(rasters.between(at[0], way), *at[2:], state.weights[i, j]) for j, at in others]
        obstacles = [
            DepthMap(row, column, rasters.atlas[start : start + height * width].reshape(height, width))
            for row, column, height, width, start in rasters.obstacles(room, way)
        ]
        grid = np.empty(tuple(search.sizes[way.index, sheet]), np.float32)
        add_up(search.board, state, i, way.index, sheet, grid)
        for (row, column), cost in np.ndenumerate(grid):
            by_hand = sum(weight * entry(m, row - r, column - c) for m, r, c, weight in maps)
            by_hand += OBSTACLE * sum(entry(m, row, column) for m in obstacles)
            assert abs(cost - by_hand) <= 1e-5 * by_hand


@given(st.integers(0, 10_000))
@settings(max_examples=25, deadline=None)
def test_a_piece_goes_where_it_costs_least(seed: int) -> None:
    """The first piece to move lies at the least cost of all its ways, sheets and positions."""
    search, rasters, _ = searching(seed)
    state, shapes = search.state, rasters.shapes
    before = state.at.copy()
    came, _ = rounds(search.board, state, 1, 10, seed)
    moved = np.flatnonzero((state.at != before).any(axis=1))
    if came != PAUSED or len(moved) == 0:
        return
    assert len(moved) == 1
    i = int(moved[0])
    least = np.inf
    for way in shapes.ways(shapes.all[int(before[i, 0])]):
        for sheet in range(2):
            grid = np.empty(tuple(search.sizes[way.index, sheet]), np.float32)
            add_up(search.board, state, i, way.index, sheet, grid)
            least = min(least, float(grid.min()))
    now = float(state.depths[i] @ state.weights[i] + state.hits[i])
    assert abs(now - least) <= 1e-5 * max(least, 1.0)
