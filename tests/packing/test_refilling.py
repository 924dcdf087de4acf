"""The compiled filling of beds, against the interpreted one and against plain geometry."""

import random

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.geometry.region import Region
from nesting.packing import boxes as box_model
from nesting.packing.boxes import Boxes, Filled
from nesting.packing.compiled_fill import fill_bed, room
from nesting.packing.fill import RULES, fill
from nesting.packing.improvement import Improvement
from nesting.packing.problem import Item, Problem, Sheet
from nesting.packing.stop import Stop
from tests.boxes_apart import assert_apart

_sides = st.integers(2, 30)


@st.composite
def _problems(draw: st.DrawFn) -> Boxes:
    """Boxes of some kinds, turned or not, with gaps of their own, on a sheet with a keep-out or none."""
    items = tuple(
        Item(
            str(k),
            Region.rectangle(draw(_sides), draw(_sides)),
            draw(st.integers(1, 8)),
            draw(st.sampled_from([(0.0,), (0.0, 90.0)])),
            gap=draw(st.sampled_from([0.0, 1.0, 3.0])),
        )
        for k in range(draw(st.integers(1, 6)))
    )
    x, y = draw(st.integers(0, 40)), draw(st.integers(0, 40))
    keep_outs = (Region.rectangle(10, 10).moved(x, y),) if draw(st.booleans()) else ()
    return box_model.read(Problem(items, (Sheet(60, 50, keep_outs=keep_outs),)))


@settings(max_examples=100, deadline=None)
@given(_problems(), st.sampled_from(range(len(RULES))), st.randoms(use_true_random=False))
def test_compiled_and_interpreted_filling_agree(boxes: Boxes, rule: int, rng: random.Random) -> None:
    """Both put the same boxes in the same places, whatever the rule, order, gaps, turns and keep-outs."""
    left = {k: kind.quantity for k, kind in enumerate(boxes.kinds)}
    order = list(left)
    rng.shuffle(order)
    one = Improvement(boxes, [(0, ())], left, [1.0] * len(left), rng, lambda _: None)
    stock, lies = one.stock(), one.lying()
    lost = fill_bed(stock, lies, room(len(stock.gaps)), 0, np.array(order), rule, np.inf)
    spots = fill(boxes, 0, order, left, RULES[rule])
    assert set(one.read(lies)[0][1]) == set(spots)
    assert lost == sum(left.values())


@settings(max_examples=40, deadline=None)
@given(_problems(), st.integers(0, 1000))
def test_a_search_is_sound(boxes: Boxes, seed: int) -> None:
    """After any search no box is lost or doubled, and none meets another, a gap, a keep-out or the edge."""
    left = {k: kind.quantity for k, kind in enumerate(boxes.kinds)}
    seen: list[Filled] = []
    one = Improvement(boxes, [(0, ()), (0, ())], left, [1.0] * len(left), random.Random(seed), seen.append)
    one.run(Stop(effort=0.02))
    for bed, spots in (*seen, *one.filled):
        assert_apart(boxes, bed, spots)
    placed = [spot.kind for _, spots in one.filled for spot in spots]
    assert {k: placed.count(k) + one.left.get(k, 0) for k in left} == left
