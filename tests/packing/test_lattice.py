"""Equal blanks: published optima, practice, and large orders."""

import json
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.check import check_layout
from nesting.geometry.region import Region
from nesting.packing import bounds
from nesting.packing.choice import pack
from nesting.packing.problem import Item, Problem, Sheet
from nesting.packing.rows import centres
from tests.data_folder import data_folder

IN = 25.4


def test_practice_check() -> None:
    """28 blanks by hand in one direction, 32 with turns: the area bound (common practice, no source).

    Sheet 40 x 35 in, blanks 4 x 7 in, gap 1.5 in: floor(41.5 * 36.5 / (5.5 * 8.5)) = 32.
    """
    sheet = Sheet(40 * IN, 35 * IN, quantity=1)
    counts = {}
    for turns in ((0,), (0, 90)):
        layout = pack(Item("blank", Region.rectangle(4 * IN, 7 * IN), 40, turns, 1.5 * IN), sheet, effort=1.0)
        assert check_layout(layout).ok
        counts[turns] = (len(layout.placements), layout.bound)
    assert counts[0,][0] == 28
    assert counts[0, 90] == (32, 32)


def test_published_optima_of_equal_rectangles() -> None:
    """Nine sheets are filled to their proven optima (sources in the data folder's README)."""
    folder = data_folder()
    if folder is None:
        pytest.skip("the open data are not here")
    found = json.loads((folder / "rect" / "identical_rectangles.json").read_text())["instances"]
    for instance in found:
        item = Item("one", Region.rectangle(*instance["item"]), instance["optimum"] + 3)
        layout = pack(item, Sheet(instance["sheet"][0], instance["sheet"][1], quantity=1), effort=1.0)
        assert check_layout(layout).ok
        assert len(layout.placements) == layout.bound == instance["optimum"]


def test_ten_thousand_blanks_repeat_one_layout() -> None:
    """A large order is laid out at once: every sheet but the last holds the same."""
    layout = pack(Item("fob", Region.rectangle(30, 60), 10_000, gap=2), Sheet(600, 400))
    on_sheet = [0] * len(layout.sheets)
    for placement in layout.placements:
        on_sheet[placement.sheet] += 1
    assert not layout.unplaced
    assert len(set(on_sheet[:-1])) == 1
    assert on_sheet[0] >= 114
    assert layout.bound <= layout.value


@settings(max_examples=40, deadline=None)
@given(width=st.integers(0, 400), height=st.integers(0, 400), distance=st.integers(20, 100))
def test_rows_of_circles_keep_their_distance(width: int, height: int, distance: int) -> None:
    """Centres stay in their box, apart from each other, and below the limit of Oler (1961)."""
    points = centres(width, height, distance)
    assert all(0 <= x <= width and 0 <= y <= height for x, y in points)
    assert all(math.dist(p, q) >= distance for i, p in enumerate(points) for q in points[:i])
    most = 2 * width * height / (math.sqrt(3) * distance**2) + (width + height) / distance + 1
    assert len(points) <= most + 1e-9
    assert len(points) >= (width // distance + 1) * (height // distance + 1)


def test_hexagonal_rows_beat_square_ones() -> None:
    """68 circles of diameter 1 fit a square of side 8; rows in line hold 64 (from memory)."""
    layout = pack(
        Item("disc", Region.circle(10), 70), Sheet(80, 80, quantity=1), effort=0.2, engine="lattice"
    )
    assert check_layout(layout).ok
    assert len(layout.placements) == 68


def test_circles_are_bounded_by_their_centres() -> None:
    """Three discs of diameter 10 on 30 x 10 are all there can be."""
    problem = Problem((Item("disc", Region.circle(10), 9),), (Sheet(30, 10, quantity=1),))
    assert bounds.placed_bound(problem).value == 3


def test_several_sizes_of_sheet_are_mixed() -> None:
    """Equal blanks choose between sheets by what they hold for their cost."""
    sheets = [Sheet(40, 40, cost=10.0), Sheet(20, 20, cost=2.0, quantity=3)]
    layout = pack(Item("tile", Region.rectangle(10, 10), 20), sheets, effort=1.0)
    assert layout.engine == "lattice"
    assert layout.value == pytest.approx(12.0)
