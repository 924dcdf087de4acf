"""Limits hold for layouts that exist, and are as sharp as the literature says."""

import json
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.geometry.region import Region
from nesting.packing.bounds import grown_area, placed_bound, spent_bound, usable_area
from nesting.packing.problem import Item, Problem, Sheet
from tests.data_folder import data_folder


@settings(max_examples=30, deadline=None)
@given(
    cuts=st.lists(st.tuples(st.integers(0, 7), st.booleans(), st.floats(0.2, 0.8)), max_size=8),
    gap=st.sampled_from([0.0, 0.4, 1.0]),
    sheets=st.integers(1, 3),
)
def test_bounds_allow_a_layout_that_exists(
    cuts: list[tuple[int, bool, float]], gap: float, sheets: int
) -> None:
    """Sheets cut up by straight cuts, each as wide as the gap, can be put together again."""
    pieces = [(20.0, 30.0)]
    for n, upright, share in cuts:
        w, h = pieces.pop(n % len(pieces))
        if upright and w > gap + 1:
            left = round((w - gap) * share, 3) or 0.001
            pieces += [(left, h), (round(w - gap - left, 3), h)]
        elif not upright and h > gap + 1:
            low = round((h - gap) * share, 3) or 0.001
            pieces += [(w, low), (w, round(h - gap - low, 3))]
        else:
            pieces.append((w, h))
    items = tuple(Item(f"{n}", Region.rectangle(*size), sheets, gap=gap) for n, size in enumerate(pieces))
    assert spent_bound(Problem(items, (Sheet(20, 30),))).value <= sheets
    assert placed_bound(Problem(items, (Sheet(20, 30, quantity=sheets),))).value == len(items) * sheets
    assert spent_bound(Problem(items, (Sheet(20, None),))).value <= 30 * sheets + gap * (sheets - 1) + 1e-6


def test_published_lower_bounds_are_reached() -> None:
    """On the 250 published instances no bound is below the published one (dual feasible functions too)."""
    folder = data_folder()
    if folder is None:
        pytest.skip("the open data are not here")
    found = json.loads((folder / "rect" / "bins_bwmv.json").read_text())["instances"]
    for instance in found[::5]:
        items = tuple(
            Item(f"{n}", Region.rectangle(*size), turns=(0,)) for n, size in enumerate(instance["items"])
        )
        bound = spent_bound(Problem(items, (Sheet(instance["sheet"][0], instance["sheet"][1]),))).value
        assert bound >= instance["lower_bound_no_rotation"]


def test_area_grows_by_half_the_gap() -> None:
    """A rectangle grown by half its gap all round has rounded corners; a sheet grows as much."""
    item = Item("plate", Region.rectangle(40, 20), gap=6)
    assert grown_area(item) == pytest.approx(40 * 20 + 60 * 6 + math.pi * 9)
    assert usable_area(Sheet(50, 30, margin=5), 6) == pytest.approx(grown_area(item))


def test_keep_outs_lessen_the_area() -> None:
    """What is kept out is not there to be used."""
    problem = Problem(
        (Item("tile", Region.rectangle(10, 10), 4),),
        (Sheet(20, 20, keep_outs=(Region.rectangle(3, 3),)),),
    )
    assert spent_bound(problem).value == 2


def test_reasons_are_given() -> None:
    """Every bound comes with a sentence."""
    problem = Problem((Item("tile", Region.rectangle(6, 6), 5),), (Sheet(10, 10),))
    bound = spent_bound(problem)
    assert bound.value == 5
    assert "sheet" in bound.reason


@settings(max_examples=25, deadline=None)
@given(diameter=st.floats(5, 30), width=st.floats(20, 90), height=st.floats(20, 90), gap=st.floats(0, 4))
def test_circles_in_straight_rows_are_never_too_many(
    diameter: float, width: float, height: float, gap: float
) -> None:
    """The limit on equal circles allows at least the straight rows, which always fit."""
    if min(width, height) < diameter:
        return
    rows = math.floor((height - diameter) / (diameter + gap)) + 1
    columns = math.floor((width - diameter) / (diameter + gap)) + 1
    item = Item("disc", Region.circle(diameter), rows * columns, gap=gap)
    assert placed_bound(Problem((item,), (Sheet(width, height, quantity=1),))).value == rows * columns
