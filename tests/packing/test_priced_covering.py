"""PricedCovering by layouts of one sheet: what is drawn is sound, and so is what is found."""

import random

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.geometry.region import Region
from nesting.packing import boxes as box_model
from nesting.packing.boxes import Boxes, Spot
from nesting.packing.patterns import Patterns
from nesting.packing.priced_covering import PricedCovering
from nesting.packing.problem import Item, Problem, Sheet
from nesting.packing.stop import Stop
from tests.boxes_apart import assert_apart

WIDTH, HEIGHT = 60, 50

_sides = st.integers(5, 40)


@st.composite
def _problems(draw: st.DrawFn) -> Boxes:
    """Boxes of some kinds, turned or not, with gaps of their own, on sheets with a keep-out or none."""
    items = tuple(
        Item(
            str(k),
            Region.rectangle(draw(_sides), draw(_sides)),
            draw(st.integers(1, 4)),
            draw(st.sampled_from([(0.0,), (0.0, 90.0)])),
            gap=draw(st.sampled_from([0.0, 1.0, 3.0])),
        )
        for k in range(draw(st.integers(1, 8)))
    )
    keep_outs = (Region.rectangle(5, 5),) if draw(st.booleans()) else ()
    return box_model.read(Problem(items, (Sheet(WIDTH, HEIGHT, keep_outs=keep_outs),)), scaled=False)


@settings(max_examples=40, deadline=None)
@given(_problems(), st.integers(0, 1000))
def test_what_is_drawn_is_sound_and_worth_it(boxes: Boxes, seed: int) -> None:
    """Patterns lie apart, have no more boxes than are left, and are worth more than a sheet."""
    rng = random.Random(seed)
    left = np.array([rng.randint(0, kind.quantity) for kind in boxes.kinds])
    left[rng.randrange(len(left))] = 1
    worth = np.array([rng.random() for _ in boxes.kinds])
    patterns = Patterns(boxes, 0, rng)
    new = patterns.draw(left, worth, 30, rng.choice([1, 10]), Stop(effort=1.0))
    assert new == len(patterns.counts) == len({tuple(row) for row in patterns.counts.tolist()})
    for i, row in enumerate(patterns.counts.tolist()):
        spots = patterns.spots(i)
        assert_apart(boxes, 0, spots)
        assert row == [sum(spot.kind == k for spot in spots) for k in range(len(row))]
        assert all(n <= most for n, most in zip(row, left.tolist(), strict=True))
        assert sum(n * w for n, w in zip(row, worth.tolist(), strict=True)) > 1


@settings(max_examples=20, deadline=None)
@given(_problems(), st.integers(0, 1000), st.integers(1, 10))
def test_what_is_found_holds_every_box(boxes: Boxes, seed: int, count: int) -> None:
    """Beds found are as many as asked for at the most, sound, and hold each box once."""
    search = PricedCovering(boxes, 0, count, random.Random(seed))
    found = search.search(Stop(effort=0.05), [])
    assert len(found) <= count
    for _, spots in found:
        assert_apart(boxes, 0, spots)
    if found:
        placed = [spot.kind for _, spots in found for spot in spots]
        assert all(placed.count(k) == kind.quantity for k, kind in enumerate(boxes.kinds))


@settings(max_examples=20, deadline=None)
@given(st.lists(st.tuples(_sides, _sides), min_size=3, max_size=20), st.integers(0, 1000))
def test_the_programme_needs_neither_less_than_the_area_nor_more_than_known_beds(
    sizes: list[tuple[int, int]], seed: int
) -> None:
    """What the linear programme needs lies between the area and a bed for each box, and shrinks if asked."""
    items = tuple(Item(str(k), Region.rectangle(*size)) for k, size in enumerate(sizes))
    boxes = box_model.read(Problem(items, (Sheet(WIDTH, HEIGHT),)))
    search = PricedCovering(boxes, 0, 1, random.Random(seed))
    alone = [(Spot(k, 0, 0, 0),) for k in range(len(boxes.kinds))]
    search.search(Stop(effort=0.05), alone)
    area = sum(w * h for w, h in sizes) / (WIDTH * HEIGHT)
    assert area - 1e-6 <= search.needed <= len(sizes) + 1e-6


def test_sheets_cut_without_waste_are_put_together_again() -> None:
    """Rectangles cut from four sheets find four sheets, the same ones at every run of the same effort."""
    rng = random.Random(5)
    pieces = [piece for _ in range(4) for piece in _cut(WIDTH, HEIGHT, 5, rng)]
    items = tuple(Item(str(k), Region.rectangle(*piece)) for k, piece in enumerate(pieces))
    boxes = box_model.read(Problem(items, (Sheet(WIDTH, HEIGHT),)))
    found = [PricedCovering(boxes, 0, 4, random.Random(1)).search(Stop(effort=4.0), []) for _ in range(2)]
    assert len(found[0]) == 4
    assert found[0] == found[1]


def _cut(width: int, height: int, count: int, rng: random.Random) -> list[tuple[int, int]]:
    """Cut a rectangle into so many by straight cuts across the longest piece."""
    pieces = [(width, height)]
    while len(pieces) < count:
        w, h = pieces.pop(max(range(len(pieces)), key=lambda i: max(pieces[i])))
        part = rng.randint(max(w, h) // 4, 3 * max(w, h) // 4)
        pieces += [(part, h), (w - part, h)] if w >= h else [(w, part), (w, h - part)]
    return pieces
