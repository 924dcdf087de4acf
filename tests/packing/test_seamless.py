"""Filling sheets without waste."""

import random
from collections import Counter
from itertools import pairwise

import numpy as np
import pytest
import shapely
from shapely.affinity import translate

from nesting.check import check_layout
from nesting.geometry.region import Region
from nesting.packing.filling import Spot
from nesting.packing.polygons import PolygonEngine
from nesting.packing.problem import Item, Problem, Sheet
from nesting.packing.room import Room
from nesting.packing.seamless import Seamless
from nesting.packing.shapes import Shapes
from nesting.packing.stop import Stop


def filled(items: list[Item], sheet: Sheet, effort: float = 10.0) -> list[Spot] | None:
    """Fill one sheet from all the items."""
    shapes = Shapes(Problem(tuple(items), (sheet,)))
    seamless = Seamless(shapes, Room(sheet, 0), np.random.default_rng(1))
    return seamless.fill(Counter({item.name: item.quantity for item in items}), Stop(effort=effort))


def squares(count: int, side: float, gap: float = 0.0) -> list[Item]:
    """Make equal squares."""
    return [Item("square", Region.rectangle(side, side), count, gap=gap)]


def corners(spots: list[Spot]) -> list[tuple[float, float]]:
    """Lower left corners of what lies there."""
    return sorted((s.x + s.shape.bounds[0], s.y + s.shape.bounds[1]) for s in spots)


def jigsaw(sheets: int, seed: int) -> list[Item]:
    """Cut sheets of 100 x 80 into columns, these into boxes, and the boxes from corner to corner."""
    rng, pieces = random.Random(seed), []
    for _ in range(sheets):
        x = [0, rng.randint(20, 45), rng.randint(55, 80), 100]
        for a, b in pairwise(x):
            y = [0, rng.randint(20, 60), 80]
            for c, d in pairwise(y):
                pieces += [[(a, c), (b, c), (b, d)], [(a, c), (b, d), (a, d)]]
    return [Item(f"piece {n}", Region.polygon(piece), turns=(0.0,)) for n, piece in enumerate(pieces)]


@pytest.mark.parametrize("seed", range(4))
def test_a_cut_up_sheet_is_laid_again(seed: int) -> None:
    """Of the pieces of two sheets those of one cover it again, none on another."""
    spots = filled(jigsaw(2, seed), Sheet(100, 80))
    assert spots is not None
    whole = shapely.union_all([translate(s.shape.outline, s.x, s.y) for s in spots])
    assert len(spots) == 12
    assert whole.area == pytest.approx(8000, abs=1e-6)


def test_pieces_that_leave_something_free_are_refused() -> None:
    """Three squares of 40 and small ones do not cover a sheet of 80 x 80, though they have its corners."""
    items = [*squares(3, 40), Item("small", Region.rectangle(39, 40), 5)]
    assert filled(items, Sheet(80, 80)) is None


def test_a_gap_is_kept_between_pieces_that_lie_flush() -> None:
    """Four squares of 40 with a gap of 2 fill a sheet of 82 x 82, two apart."""
    spots = filled(squares(4, 40, gap=2), Sheet(82, 82))
    assert spots is not None
    assert corners(spots) == [(0, 0), (0, 42), (42, 0), (42, 42)]


def test_keep_outs_and_an_outline_are_kept_free() -> None:
    """Three squares fill what a keep-out leaves, or what an outline with a bay is."""
    corner = Sheet(80, 80, keep_outs=(Region.rectangle(40, 40),))
    bay = Sheet(80, 80, outline=Region.polygon([(0, 0), (80, 0), (80, 40), (40, 40), (40, 80), (0, 80)]))
    for sheet, free in ((corner, (0, 0)), (bay, (40, 40))):
        spots = filled(squares(5, 40), sheet)
        assert spots is not None
        assert len(spots) == 3
        assert free not in corners(spots)


def test_nothing_is_searched_where_a_distance_to_an_obstacle_matters() -> None:
    """A keep-out and a gap, or no piece small enough, give no filling at all."""
    assert filled(squares(5, 40, gap=2), Sheet(82, 82, keep_outs=(Region.rectangle(40, 40),))) is None
    assert filled(squares(5, 90), Sheet(80, 80)) is None


def test_the_engine_keeps_sheets_filled_without_waste() -> None:
    """Three cut-up sheets need no more than three, soundly, and with a piece more one more."""
    items = jigsaw(3, 5)
    for extra, count in (([], 3), ([Item("disc", Region.circle(30))], 4)):
        problem = Problem((*items, *extra), (Sheet(100, 80),))
        layout = PolygonEngine().pack(problem, Stop(effort=30.0), 1, lambda _: None)
        assert not layout.unplaced
        assert not check_layout(layout).violations
        assert len(layout.sheets) == count
        assert layout.proven


def test_a_roll_is_filled_without_waste() -> None:
    """The pieces of a cut-up sheet come out as short as it was, on a roll of its width, and proven so."""
    problem = Problem(tuple(jigsaw(1, 3)), (Sheet(100, None),))
    layout = PolygonEngine().pack(problem, Stop(effort=30.0), 1, lambda _: None)
    assert check_layout(layout).ok
    assert layout.used_length == pytest.approx(80, abs=1e-6)
    assert layout.proven
