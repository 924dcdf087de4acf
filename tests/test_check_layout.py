"""The check of a layout: sound ones pass, and each way of being unsound is named."""

import math
from collections.abc import Callable

import pytest
import shapely
from hypothesis import assume, given
from hypothesis import strategies as st

from nesting.check import KINDS, Kind, check_layout
from nesting.geometry.contour import Contour
from nesting.geometry.region import Region
from nesting.packing.problem import Item, Problem, Sheet
from nesting.packing.result import Layout, Placement

_LENGTHS = st.integers(1, 400).map(lambda tenths: tenths / 10)
_GRID = st.integers(-60_000, 60_000).map(lambda microns: microns / 1000)


def _layout(
    items: list[Item], sheet: Sheet, placements: list[tuple[str, float, float, float]], bound: float = 1
) -> Layout:
    placed = tuple(Placement(name, 0, x, y, turn) for name, x, y, turn in placements)
    return Layout(Problem(tuple(items), (sheet,)), (sheet,), placed, bound)


def _sound() -> Layout:
    """Three fobs and a coaster, 2 mm apart, on a sheet with a keep-out; 5 mm margin."""
    fob = Item("fob", Region.rectangle(30, 60, radius=5), quantity=3, gap=2)
    coaster = Item("coaster", Region.circle(90), turns=(0,), gap=1)
    keep_out = Region.polygon([(150, 120), (200, 120), (200, 150), (150, 150)])
    sheet = Sheet(200, 150, quantity=1, margin=5, keep_outs=(keep_out,))
    places = [("fob", 5.0, 5.0, 0.0), ("fob", 37, 5, 0), ("fob", 65, 67, 90), ("coaster", 114, 50, 0)]
    return _layout([fob, coaster], sheet, places)


def _moved(layout: Layout, which: int, **changes: float) -> Layout:
    old = layout.placements[which]
    values = {
        "x": old.x,
        "y": old.y,
        "turn": old.turn,
        "sheet": old.sheet,
        "mirrored": old.mirrored,
    } | changes
    new = Placement(old.item, **values)  # type: ignore[arg-type]
    return layout.with_changes(placements=(*layout.placements[:which], new, *layout.placements[which + 1 :]))


def test_a_sound_layout_is_accepted() -> None:
    """A layout with every distance kept to the micrometre has no violation."""
    report = check_layout(_sound())
    assert report.ok, str(report)
    assert str(report) == "sound: 1 sheets, 4 placements checked"


_MUTATIONS: dict[str, tuple[Kind, Callable[[Layout], Layout]]] = {
    "moved 2 µm into a gap": ("gap", lambda p: _moved(p, 1, x=36.998)),
    "moved 2 mm into a footprint": ("overlap", lambda p: _moved(p, 1, x=33)),
    "2 µm over the margin": ("margin", lambda p: _moved(p, 0, x=4.998)),
    "off the sheet": ("margin", lambda p: _moved(p, 0, x=-400)),
    "into the keep-out": ("keep-out", lambda p: _moved(p, 3, x=120, y=95)),
    "turned by 1°": ("turn", lambda p: _moved(p, 2, turn=91)),
    "mirrored": ("mirror", lambda p: _moved(p, 0, mirrored=True)),
    "off the grid": ("grid", lambda p: _moved(p, 1, x=37.0005)),
    "not a number": ("number", lambda p: _moved(p, 1, x=math.nan)),
    "without end": ("number", lambda p: _moved(p, 1, turn=math.inf)),
    "sheet not there": ("sheet", lambda p: _moved(p, 1, sheet=1)),
    "sheet counted from the end": ("sheet", lambda p: _moved(p, 1, sheet=-1)),
    "one too many": ("quantity", lambda p: p.with_changes(placements=p.placements * 2)),
    "unknown item": ("quantity", lambda p: p.with_changes(placements=(Placement("pen", 0, 0, 0, 0),))),
    "stock used up": ("sheet", lambda p: p.with_changes(sheets=p.sheets * 2)),
    "other sheet": ("sheet", lambda p: p.with_changes(sheets=(Sheet(900, 900),))),
    "bound above the value": ("bound", lambda p: p.with_changes(bound=2)),
    "bound not a number": ("number", lambda p: p.with_changes(bound=math.nan)),
    "more placed than the bound": (
        "bound",
        lambda p: p.with_changes(placements=p.placements[:3], bound=2),
    ),
}


@pytest.mark.parametrize("name", _MUTATIONS)
def test_a_fault_made_on_purpose_is_named(name: str) -> None:
    """Each fault alone is reported under its own kind."""
    kind, mutate = _MUTATIONS[name]
    report = check_layout(mutate(_sound()))
    assert kind in report.kinds, str(report)


def test_every_kind_is_described_once() -> None:
    """The table in the package's documentation lists exactly the kinds that violations can have."""
    import nesting.check

    table = (nesting.check.__doc__ or "").split("===\n")
    words = [line.split()[0] for block in table[1:2] for line in block.splitlines() if line[:1].isalpha()]
    assert tuple(words) == KINDS


@given(
    sizes=st.tuples(_LENGTHS, _LENGTHS, _LENGTHS, _LENGTHS),
    radii=st.tuples(_LENGTHS, _LENGTHS),
    place=st.tuples(_GRID, _GRID),
    gap=st.integers(0, 30).map(lambda tenths: tenths / 10),
)
def test_the_distance_of_rounded_rectangles_is_that_of_their_cores(
    sizes: tuple[float, float, float, float],
    radii: tuple[float, float],
    place: tuple[float, float],
    gap: float,
) -> None:
    """Two rounded rectangles are refused exactly if their cores are nearer than both radii and the gap."""
    (w1, h1, w2, h2), (r1, r2), (x, y) = sizes, radii, place
    outlines = [Region.rectangle(w + 2 * r, h + 2 * r, r) for w, h, r in ((w1, h1, r1), (w2, h2, r2))]
    cores = [shapely.box(r1, r1, r1 + w1, r1 + h1), shapely.box(x + r2, y + r2, x + r2 + w2, y + r2 + h2)]
    clear = cores[0].distance(cores[1]) - r1 - r2
    assume(abs(clear - gap + 0.001) > 0.0003)
    items = [Item("a", outlines[0], gap=gap), Item("b", outlines[1])]
    report = check_layout(
        _layout(items, Sheet(500, 500), [("a", 200, 200, 0), ("b", round(200 + x, 3), round(200 + y, 3), 0)])
    )
    assert report.ok == (clear >= gap - 0.001), f"{clear} for {gap}: {report}"


@given(diameters=st.tuples(_LENGTHS, _LENGTHS), place=st.tuples(_GRID, _GRID), turn=st.floats(0, 360))
def test_discs_overlap_by_their_centres_whatever_the_turn(
    diameters: tuple[float, float], place: tuple[float, float], turn: float
) -> None:
    """Two discs are refused exactly if their centres are nearer than the sum of the radii."""
    clear = math.hypot(*place) - sum(diameters) / 2
    assume(abs(clear + 0.001) > 1e-6)
    items = [Item(name, Region.circle(d), turns="any") for name, d in zip("ab", diameters, strict=True)]
    x, y = round(200 + place[0], 3), round(200 + place[1], 3)
    layout = _layout(items, Sheet(500, 500), [("a", 200, 200, turn), ("b", x, y, 0)])
    assert check_layout(layout).ok == (clear >= -0.001)


def test_a_disc_may_lie_in_the_hole_of_a_ring_but_not_on_the_ring() -> None:
    """A hole is free for others, the ring round it is not, and a gap holds inside the hole too."""
    ring = Item("ring", Region(Contour.circle(60, 50, 50), (Contour.circle(30, 50, 50),)))
    for diameter, kinds in ((29.9, set()), (30.1, {"overlap"}), (60.0, {"overlap"})):
        disc = Item("disc", Region.circle(diameter))
        report = check_layout(
            _layout([ring, disc], Sheet(100, 100), [("ring", 0, 0, 0), ("disc", 50, 50, 0)])
        )
        assert report.kinds == kinds, diameter
    near = _layout(
        [ring, Item("disc", Region.circle(29), gap=1)],
        Sheet(100, 100),
        [("ring", 0, 0, 0), ("disc", 50, 50, 0)],
    )
    assert check_layout(near).kinds == {"gap"}


def test_two_footprints_in_one_place_overlap() -> None:
    """A footprint exactly on or wholly inside another one is found, whatever their shapes."""
    outlines = {
        "square": Region.polygon([(-10, -10), (10, -10), (10, 10), (-10, 10)]),
        "small": Region.polygon([(-1, -1), (1, -1), (1, 1), (-1, 1)]),
        "disc": Region.circle(18),
        "dot": Region.circle(1),
    }
    for first in outlines:
        for second in outlines:
            items = [Item("a", outlines[first]), Item("b", outlines[second])]
            layout = _layout(items, Sheet(100, 100), [("a", 50, 50, 0), ("b", 50, 50, 0)])
            assert check_layout(layout).kinds == {"overlap"}, (first, second)


@pytest.mark.parametrize(
    ("x", "y", "kinds"),
    [
        (20, 20, set()),
        (15, 15, set()),
        (14.99, 20, {"margin"}),
        (65, 120, set()),
        (65.01, 120, {"margin"}),
        (120, 120, {"margin"}),
        (40, 150, {"margin"}),
        (500, 500, {"margin"}),
    ],
)
def test_the_margin_holds_round_an_outline_of_any_shape(x: float, y: float, kinds: set[str]) -> None:
    """On an L-shaped sheet with a hole a disc of 20 mm keeps 5 mm to every edge."""
    ell = [(0, 0), (200, 0), (200, 80), (80, 80), (80, 200), (0, 200)]
    hole = [(30, 140), (50, 140), (50, 160), (30, 160)]
    sheet = Sheet(200, 200, margin=5, outline=Region.polygon(ell, [hole]))
    layout = _layout([Item("disc", Region.circle(20))], sheet, [("disc", x, y, 0)])
    assert check_layout(layout).kinds == kinds


def test_a_polygon_may_touch_the_edge_of_an_outline_but_not_cross_it() -> None:
    """Without a margin a square fills an outline to its edge, and 2 µm more leave it."""
    corner = Region.polygon([(0, 0), (100, 0), (0, 100)])
    square = Item("square", Region.rectangle(50, 50))
    sheet = Sheet(100, 100, outline=corner)
    assert check_layout(_layout([square], sheet, [("square", 0, 0, 0)])).ok
    assert check_layout(_layout([square], sheet, [("square", 0.004, 0, 0)])).kinds == {"margin"}


def test_a_roll_is_as_long_as_what_is_used_of_it() -> None:
    """On a roll the stated length must hold everything and its margin, and the bound be no longer."""
    roll, item = Sheet(100, None, margin=2), Item("square", Region.rectangle(50, 50), quantity=2)
    problem, places = Problem((item,), (roll,)), [("square", 2, 2, 0), ("square", 2, 52, 0)]
    placed = tuple(Placement(name, 0, x, y, turn) for name, x, y, turn in places)
    for length, bound, kinds in ((104, 104, set()), (103.9, 60, {"margin"}), (104, 104.1, {"bound"})):
        layout = Layout(problem, (Sheet(100, length, margin=2),), placed, bound)
        assert check_layout(layout).kinds == kinds


def test_a_mirrored_footprint_lies_where_its_mirror_image_is() -> None:
    """Mirroring comes before turning: an L and its mirror image close up to a rectangle."""
    ell = Region.polygon([(0, 0), (30, 0), (30, 10), (10, 10), (10, 30), (0, 30)])
    item = Item("ell", ell, quantity=2, turns=(0, 180), mirror=True)
    sheet = Sheet(100, 100)
    placed = (Placement("ell", 0, 10, 10, 0), Placement("ell", 0, 20, 50, 180, mirrored=True))
    layout = Layout(Problem((item,), (sheet,)), (sheet,), placed, 1)
    # mirrored in the y axis and turned by 180° is mirrored in the x axis: x from 20 to 50, y from 20 to 50
    assert check_layout(layout).ok
    low = Placement("ell", 0, 20, 49.99, 180, mirrored=True)
    assert check_layout(layout.with_changes(placements=(placed[0], low))).kinds == {"overlap"}
