"""Packing rectangles: soundness, bounds and stopping, judged by code that shares nothing with the engine."""

import itertools
import math
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.check import check_layout
from nesting.errors import InputError
from nesting.geometry.region import Region
from nesting.packing import bounds
from nesting.packing.choice import pack
from nesting.packing.problem import Item, Problem, Sheet
from nesting.packing.result import Layout

SIDES = st.integers(1, 12)


def items_of(sizes: Sequence[tuple[float, float]], **about: object) -> list[Item]:
    return [Item(f"item {n}", Region.rectangle(*size), **about) for n, size in enumerate(sizes)]  # type: ignore[arg-type]


def faults(layout: Layout) -> list[str]:
    """Find what is wrong with a layout, by shapely alone."""
    found = []
    items = {item.name: item for item in layout.problem.items}
    shapes = [region.shape("on") for region in layout.regions]
    for i, place in enumerate(layout.placements):
        sheet = layout.sheets[place.sheet]
        top = layout.used_length if sheet.height is None else sheet.height
        inside = shapely.box(
            sheet.margin, sheet.margin, sheet.width - sheet.margin, top - sheet.margin
        ).buffer(1e-6)
        if not inside.covers(shapes[i]):
            found.append(f"{place.item} leaves its sheet")
        if any(shapes[i].intersection(keep.shape("on")).area > 1e-6 for keep in sheet.keep_outs):
            found.append(f"{place.item} enters a keep-out")
        if place.turn not in items[place.item].turns:
            found.append(f"{place.item} is turned by {place.turn}")
        for j in range(i):
            if layout.placements[j].sheet == place.sheet:
                gap = max(items[place.item].gap, items[layout.placements[j].item].gap)
                near = shapes[i].distance(shapes[j]) < gap - 1e-6
                if near or shapes[i].intersection(shapes[j]).area > 1e-6:
                    found.append(f"{place.item} and {layout.placements[j].item} are too near")
    return found


def fewest(sizes: list[tuple[int, int]], width: int, height: int, turns: bool) -> int:
    """Find the fewest sheets for a handful of whole-numbered rectangles by trying every corner."""

    def fits(boxes: tuple[tuple[int, int], ...], cells: frozenset[tuple[int, int]]) -> bool:
        if not boxes:
            return True
        for w, h in {boxes[0], boxes[0][::-1]} if turns else {boxes[0]}:
            for x, y in itertools.product(range(width - w + 1), range(height - h + 1)):
                block = {(x + i, y + j) for i in range(w) for j in range(h)}
                if not block & cells and fits(boxes[1:], cells | block):
                    return True
        return False

    def search(n: int, sheets: list[list[tuple[int, int]]], limit: int) -> bool:
        if n == len(sizes):
            return all(fits(tuple(sorted(s, reverse=True)), frozenset()) for s in sheets)
        options = [*range(len(sheets)), *([len(sheets)] if len(sheets) < limit else [])]
        for i in options:
            more = [list(s) for s in sheets] + ([[]] if i == len(sheets) else [])
            more[i].append(sizes[n])
            if sum(w * h for w, h in more[i]) <= width * height and search(n + 1, more, limit):
                return True
        return False

    return next(k for k in range(1, len(sizes) + 1) if search(0, [], k))


@settings(max_examples=15, deadline=None)
@given(
    sizes=st.lists(st.tuples(SIDES, SIDES), min_size=1, max_size=12),
    gaps=st.lists(st.sampled_from([0.0, 0.5, 2.0]), min_size=12, max_size=12),
    turns=st.sampled_from([(0,), (90,), (0, 90), (0, 90, 180, 270)]),
    margin=st.sampled_from([0.0, 1.5]),
    keep_out=st.booleans(),
)
def test_layouts_are_sound(
    sizes: list[tuple[int, int]], gaps: list[float], turns: tuple[float, ...], margin: float, keep_out: bool
) -> None:
    """Unequal gaps, margins, keep-outs and several sizes are kept whatever the rectangles."""
    items = [Item(f"{n}", Region.rectangle(*size), 1 + n % 2, turns, gaps[n]) for n, size in enumerate(sizes)]
    keep = (Region.rectangle(3, 2).moved(5, 4),) if keep_out else ()
    sheets = [Sheet(16, 18, margin=margin, keep_outs=keep), Sheet(24, 20, quantity=1, margin=margin)]
    layout = pack(items, sheets, effort=0.05, engine="rectangles")
    assert not faults(layout)
    assert check_layout(layout).ok
    if layout.unplaced:
        assert keep_out
        assert layout.bound >= layout.value
    else:
        assert layout.bound <= layout.value


@settings(max_examples=12, deadline=None)
@given(
    sizes=st.lists(st.tuples(st.integers(1, 4), st.integers(1, 4)), min_size=1, max_size=5),
    turns=st.booleans(),
)
def test_no_bound_passes_the_optimum(sizes: list[tuple[int, int]], turns: bool) -> None:
    """On tiny instances the bound is never above the optimum by exhaustion, and the layout reaches it."""
    best = fewest(sizes, 5, 4, turns)
    items = items_of(sizes, turns=(0, 90) if turns else (0,))
    layout = pack(items, Sheet(5, 4), effort=2.0, engine="rectangles")
    assert layout.bound <= best == layout.value


@settings(max_examples=10, deadline=None)
@given(
    kinds=st.lists(
        st.tuples(st.integers(1, 4), st.integers(1, 4), st.integers(1, 3)), min_size=1, max_size=3
    ),
    turns=st.booleans(),
)
def test_quantities_count_in_the_bound(kinds: list[tuple[int, int, int]], turns: bool) -> None:
    """An item wanted several times weighs as much in the bound as that many items."""
    sizes = [(w, h) for w, h, count in kinds for _ in range(count)][:5]
    names = {size: sizes.count(size) for size in sizes}
    items = [
        Item(f"{w} x {h}", Region.rectangle(w, h), count, (0, 90) if turns else (0,))
        for (w, h), count in names.items()
    ]
    assert bounds.spent_bound(Problem(tuple(items), (Sheet(5, 4),))).value <= fewest(sizes, 5, 4, turns)


def test_gaps_may_be_kept_corner_to_corner() -> None:
    """The bound allows for squares that keep their gap only along the diagonal.

    Two unit squares with gap 1 fit a square of side 2 + 1/√2 that way and no other.
    """
    side = 2.7072
    problem = Problem((Item("square", Region.rectangle(1, 1), 2, (0,), 1.0),), (Sheet(side, side),))
    assert math.hypot(side - 2, side - 2) >= 1
    assert bounds.spent_bound(problem).value == 1


def test_wide_rectangles_exclude_each_other() -> None:
    """Boxes 6 wide and 6 high cannot share a sheet 10 x 10: the bound sees more than their area."""
    layout = pack(items_of([(6, 6)] * 5 + [(4, 4)] * 3), Sheet(10, 10), effort=1.0)
    assert (layout.value, layout.bound, layout.proven) == (5, 5, True)


def test_same_effort_same_layout() -> None:
    """The same input, seed and effort give the same placements; another seed is free to differ."""
    items = items_of([(3 + n % 7, 2 + n * n % 9) for n in range(24)])
    first, again = (pack(items, Sheet(17, 13), effort=1.5, seed=3) for _ in range(2))
    assert first.placements == again.placements
    assert first.bound == again.bound


def test_cancelling_ends_the_search() -> None:
    """A cancelled search ends with the best layout so far, long before its time."""
    seen: list[Layout] = []
    items = items_of([(11 + n % 13, 7 + n % 17) for n in range(60)], gap=1)
    layout = pack(
        items,
        Sheet(60, 60),
        seconds=60,
        progress=seen.append,
        cancelled=lambda: bool(seen),
        engine="rectangles",
    )
    assert layout.placements == seen[-1].placements
    assert layout.seconds < 30


def test_progress_tells_better_layouts_only() -> None:
    """Every layout that is reported is better than the one before, and the last is the answer."""
    seen: list[Layout] = []
    items = items_of([(9 + 7 * n % 23, 5 + 5 * n % 19) for n in range(40)])
    layout = pack(items, Sheet(50, 40), effort=1.0, progress=seen.append)
    assert all(later.better_than(earlier) for earlier, later in itertools.pairwise(seen))
    assert seen[-1].value == layout.value


def test_dear_sheets_are_left_alone() -> None:
    """With costs stated the cheaper mixture wins over fewer sheets."""
    items = items_of([(10, 10)] * 4)
    layout = pack(items, [Sheet(20, 20, cost=9.0), Sheet(10, 20, cost=2.0)], effort=1.0, engine="rectangles")
    assert (layout.value, layout.proven) == (4.0, True)


def test_scarce_sheets_are_respected() -> None:
    """Limited sheets leave items unplaced, and the bound then limits how many can be placed."""
    items = items_of([(6, 6), (7, 7), (8, 8), (6, 7)], turns=(0,))
    layout = pack(items, Sheet(10, 10, quantity=3), effort=0.5)
    assert len(layout.placements) == 3
    assert layout.objective == "placed"
    assert layout.bound >= 3


def test_unequal_gaps_use_the_larger() -> None:
    """A wide gap of one item is not asked of pairs without it: three in a row of 10 fit exactly."""
    items = [
        Item("near", Region.rectangle(2, 5), 2, (0,), 1.0),
        Item("far", Region.rectangle(2, 5), 1, (0,), 3.0),
    ]
    assert len(pack(items, Sheet(10, 5, quantity=1), effort=0.3).placements) == 3
    assert len(pack(items, Sheet(9.99, 5, quantity=1), effort=0.3).placements) == 2


def test_roll_is_used_as_short_as_can_be() -> None:
    """Rectangles cut from a rectangle go back on a roll of its width without waste."""
    items = items_of([(4, 6), (6, 3), (6, 3), (10, 2), (5, 5), (5, 2), (5, 3)])
    layout = pack(items, Sheet(10, None), effort=10.0)
    assert not faults(layout)
    assert layout.value == layout.bound == 13


def test_rolls_keep_gaps_and_keep_outs() -> None:
    """A roll with a margin, unequal gaps and a keep-out is filled soundly."""
    items = [*items_of([(5, 3), (4, 4), (7, 2)], gap=0.5), Item("far", Region.rectangle(2, 2), 2, gap=2.0)]
    layout = pack(
        items, Sheet(12, None, margin=1, keep_outs=(Region.rectangle(3, 3).moved(4, 4),)), effort=0.2
    )
    assert not faults(layout)
    assert not layout.unplaced


def test_executor_runs_other_seeds() -> None:
    """Searches with other seeds in a pool never make the answer worse."""
    items = items_of([(3 + n % 7, 2 + n * n % 9) for n in range(20)])
    alone = pack(items, Sheet(17, 13), effort=0.3)
    with ThreadPoolExecutor(2) as pool:
        together = pack(items, Sheet(17, 13), effort=0.3, executor=pool)
    assert not alone.better_than(together)


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        ({"seconds": 0}, "seconds"),
        ({"effort": -1}, "effort"),
        ({"seed": -3}, "seed"),
        ({"items": []}, "one item"),
    ],
)
def test_wrong_arguments_are_named(wrong: dict[str, object], message: str) -> None:
    """An argument out of range is an input error that names it."""
    arguments: dict[str, object] = {"items": items_of([(1, 1)]), "sheets": Sheet(2, 2), **wrong}
    with pytest.raises(InputError, match=message):
        pack(**arguments)  # type: ignore[arg-type]


def test_engine_that_refuses_is_an_error() -> None:
    """An engine forced on a problem it cannot take says why."""
    with pytest.raises(InputError, match="rectangle"):
        pack(Item("disc", Region.circle(3)), Sheet(9, 9), engine="rectangles")


def test_choice_is_explained() -> None:
    """The layout names its engine, and why others were not asked."""
    layout = pack(items_of([(3, 2), (2, 2)]), Sheet(9, 9), effort=0.2)
    assert layout.engine == "rectangles"
    assert "not lattice" in layout.explanation
