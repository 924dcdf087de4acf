"""The engine for any footprint, judged by the independent check."""

import math

import numpy as np
import pytest
import shapely

from nesting.check import check_layout
from nesting.geometry.contour import Contour
from nesting.geometry.region import Region
from nesting.packing.boxed import boxed_fillings
from nesting.packing.polygons import PolygonEngine
from nesting.packing.problem import Item, Problem, Sheet
from nesting.packing.result import Layout
from nesting.packing.room import Room
from nesting.packing.shapes import Shapes
from nesting.packing.stop import Stop

BRACKET = Region.polygon([(0, 0), (60, 0), (60, 20), (20, 20), (20, 60), (0, 60)])
FOB = Region(Region.rectangle(30, 60, radius=8).outer, (Contour.circle(5, 15, 52),))


def pack(items: list[Item], sheets: list[Sheet], effort: float = 0.3, seed: int = 1) -> Layout:
    """Pack and insist that the independent check finds nothing."""
    problem = Problem(tuple(items), tuple(sheets))
    layout = PolygonEngine().pack(problem, Stop(effort=effort), seed, lambda _: None)
    report = check_layout(layout)
    assert not report.violations, str(report)
    return layout


def mixed() -> list[Item]:
    """Make circles, rounded rectangles, fobs, brackets and pens with different gaps."""
    return [
        Item("coaster", Region.circle(90), 4, gap=3),
        Item("card", Region.rectangle(85, 55, radius=3), 4, gap=1),
        Item("fob", FOB, 6, gap=2),
        Item("bracket", BRACKET, 6, turns=(0, 90, 180, 270)),
        Item("pen", Region.rectangle(12, 140), 5, turns="any", gap=2),
    ]


def unlike() -> list[Item]:
    """Make sixty triangles, no two alike."""
    return [
        Item(
            f"piece {k}", Region.polygon([(0, 0), (10 + k % 13, k / 60), (k / 9, 9 + k % 17)]), turns=(0, 90)
        )
        for k in range(60)
    ]


def test_a_mixed_order_is_placed_soundly() -> None:
    """Circles, fobs with a hole, brackets and pens of different gaps all find a sound place."""
    layout = pack(mixed(), [Sheet(400, 300, margin=5)])
    assert not layout.unplaced
    assert len(layout.sheets) <= 2


def test_an_offcut_with_a_hole_and_keep_outs_is_respected() -> None:
    """On an outline with a slanted edge and a hole, margins and keep-outs hold."""
    outline = Region.polygon(
        [(0, 0), (400, 0), (400, 250), (0, 350)], [[(180, 120), (220, 120), (220, 160), (180, 160)]]
    )
    stump = Sheet(400, 350, margin=4, outline=outline, keep_outs=(Region.circle(60).moved(320, 60),))
    assert not pack(mixed(), [stump]).unplaced


def test_pieces_that_fit_exactly_fill_the_sheet() -> None:
    """Six tiles of a third of the width fill one sheet to the last micrometre."""
    tile = Item(
        "tile", Region.polygon([(0, 0), (30, 0), (30, 45), (15, 45), (15, 50), (0, 50)]), 6, turns=(0,)
    )
    layout = pack([tile], [Sheet(90, 100)])
    assert len(layout.sheets) == 1


def test_discs_that_touch_exactly_fill_the_sheet() -> None:
    """Four discs and a pip between them share a square of twice the diameter, however they are turned."""
    disc = Item("disc", Region.circle(50).moved(3, 4), 4, turns=(15,), gap=1)
    pip = Item("pip", Region.rectangle(8, 8), turns=(0,))
    assert len(pack([disc, pip], [Sheet(101, 101)]).sheets) == 1


def test_a_free_turn_is_searched_finely_where_it_must() -> None:
    """A pen longer than the sheet lies across it, at one of the few turns that fit."""
    pen = Item("pen", Region.rectangle(140, 12), turns="any")
    assert not pack([pen], [Sheet(120, 95, margin=0.2)]).unplaced


def test_a_slot_as_wide_as_the_piece_is_found() -> None:
    """A bar slides into a slot exactly as wide as itself."""
    corners = [(0, 0), (60, 0), (60, 40), (40, 40), (40, 10), (20, 10), (20, 40), (0, 40)]
    comb = Item("comb", Region.polygon(corners), turns=(0,))
    bar = Item("bar", Region.rectangle(20, 30), turns=(0,))
    assert len(pack([comb, bar], [Sheet(60, 40)]).sheets) == 1


def test_a_small_piece_may_lie_in_the_hole_of_a_large_one() -> None:
    """A disc takes the hole of a ring, the gap kept."""
    ring = Item("ring", Region(Contour.circle(100), (Contour.circle(60),)), gap=2)
    disc = Item("disc", Region.circle(55), gap=1)
    layout = pack([ring, disc], [Sheet(100.5, 100.5)])
    assert len(layout.sheets) == 1


def test_cancelling_ends_at_once() -> None:
    """A search cancelled before it starts gives an empty layout and reports it."""
    problem = Problem(tuple(mixed()), (Sheet(400, 300),))
    layout = PolygonEngine().pack(problem, Stop(seconds=60, cancelled=lambda: True), 1, lambda _: None)
    assert layout.placements == ()


def test_what_finds_no_place_is_left_unplaced() -> None:
    """With one small sheet in stock, some items stay unplaced and too large ones always do."""
    layout = pack(
        [Item("bracket", BRACKET, 9), Item("board", Region.rectangle(300, 300))],
        [Sheet(130, 130, quantity=1)],
    )
    assert layout.unplaced["board"] == 1
    assert 0 < layout.unplaced["bracket"] < 9


def test_a_roll_ends_where_the_layout_ends() -> None:
    """On a roll the one sheet is as long as what is used, and short."""
    layout = pack([Item("bracket", BRACKET, 8, turns=(0, 90, 180, 270))], [Sheet(130, None, margin=5)])
    assert layout.sheets[0].height == pytest.approx(layout.used_length)
    area = 8 * BRACKET.area
    assert layout.used_length < 1.6 * area / 120


def test_the_same_effort_and_seed_give_the_same_layout() -> None:
    """Two runs with an effort agree to the last placement."""
    first, second = (pack(mixed(), [Sheet(300, 300)], seed=5) for _ in range(2))
    assert first.placements == second.placements


@pytest.mark.parametrize("seed", range(4))
def test_random_pieces_are_placed_soundly(seed: int) -> None:
    """Random star-shaped pieces with odd coordinates, turns and gaps keep clear of one another."""
    rng = np.random.default_rng(seed)
    items = []
    for k in range(5):
        angles = np.sort(rng.uniform(0, 2 * math.pi, 9)) + np.arange(9) * 1e-3
        points = np.column_stack([np.cos(angles), np.sin(angles)]) * rng.uniform(10, 40, (9, 1))
        turns = tuple(rng.uniform(0, 360, 3))
        items.append(
            Item(f"star {k}", Region.polygon(points), 3, turns, float(rng.uniform(0, 4)), mirror=k == 0)
        )
    assert not pack(items, [Sheet(250, 200, margin=float(rng.uniform(0, 3)))]).unplaced


def test_outlines_need_no_more_sheets_than_their_boxes() -> None:
    """Twelve cards whose boxes fill one sheet to the last micrometre lie on one sheet."""
    card = Item("card", Region.rectangle(100, 60, radius=25).moved(17, 3), 12, turns=(90, 180), gap=0)
    problem = Problem((card,), (Sheet(300, 240),))
    shapes = Shapes(problem)
    rooms = [Room(sheet, 0) for sheet in problem.sheets]
    fillings = boxed_fillings(problem, shapes, rooms, 1, Stop(effort=1.0))
    assert fillings is not None
    (filling,) = fillings
    placed = [shapely.affinity.translate(s.shape.outline, s.x, s.y) for s in filling.spots]
    assert len(placed) == 12
    assert shapely.union_all(placed).area == pytest.approx(12 * placed[0].area, abs=0.1)
    assert len(pack([card], [Sheet(300, 240)], effort=1.0).sheets) == 1


def test_boxes_are_not_packed_on_sheets_that_are_no_rectangles() -> None:
    """Where the engine for rectangles refuses the sheet there is no start from boxes."""
    sheet = Sheet(200, 200, outline=Region.polygon([(0, 0), (200, 0), (0, 200)]))
    problem = Problem((Item("l", BRACKET, 2),), (sheet,))
    assert boxed_fillings(problem, Shapes(problem), [Room(sheet, 0)], 1, Stop(effort=0.1)) is None


def test_ways_that_look_alike_when_moved_count_once() -> None:
    """Of four turns a rounded square has one, a rounded bar two, a drop four, wherever their (0, 0) is."""
    turns = (0, 90, 180, 270)
    drop = Region.polygon([(0, 0), (10, 0), (20, 30)])
    items = (
        Item("square", Region.rectangle(30, 30, radius=4), turns=turns),
        Item("bar", Region.rectangle(50, 9, radius=4), turns=turns),
        Item("drop", drop, turns=turns),
    )
    ways = Shapes(Problem(items, (Sheet(200, 200),))).of_item
    assert [len(found) for found in ways] == [1, 2, 4]


def test_ways_that_keep_another_margin_all_count() -> None:
    """A bar that overhangs the sheet on one side lies in four ways, though two outlines look alike each."""
    held = Region.rectangle(40, 10)
    item = Item("bar", Region.rectangle(50, 10), turns=(0, 90, 180, 270), edge=held)
    assert len(Shapes(Problem((item,), (Sheet(200, 200),))).of_item[0]) == 4


@pytest.mark.parametrize(
    "sheet",
    [
        Sheet(200, 150, margin=3),
        Sheet(200, 150, margin=3, outline=Region.polygon([(0, 0), (200, 0), (0, 150)])),
    ],
)
def test_everything_is_placed_though_there_is_no_time_for_it(sheet: Sheet) -> None:
    """Sixty pieces, no two alike, all lie soundly on sheets, as boxes where the sheet is one."""
    layout = pack(unlike(), [sheet], effort=1e-3)
    assert len(layout.placements) == 60


def test_the_rest_is_placed_as_boxes_beside_what_was_placed_in_time() -> None:
    """With some pieces placed one by one and no time for the others, all lie soundly, within the stock."""
    sheets = (Sheet(60, 50, 1, name="small"), Sheet(90, 90, name="large"))
    engine, efforts = PolygonEngine(), (0.05, 0.1, 0.2)
    for effort in efforts:
        stop = Stop(effort=effort)
        layout = engine.pack(Problem(tuple(unlike()), sheets), stop, 1, lambda _: None)
        assert stop.spent < effort + 0.05  # to place them all one by one takes about 0.7
        assert not check_layout(layout).violations
        assert len(layout.placements) == 60
        assert sum(sheet.name == "small" for sheet in layout.sheets) <= 1
