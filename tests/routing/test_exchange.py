"""Units of one blank change places where that makes the way of the beam shorter."""

import math
from collections import Counter
from dataclasses import replace
from itertools import permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting import make_plan
from nesting.geometry.contour import Contour
from nesting.geometry.drawing import Drawing, Shape
from nesting.geometry.region import Region
from nesting.job.job import Artwork, Blank, Job, Machine, MarkSetting, OrderLine, Stock
from nesting.packing.stop import Stop
from nesting.plan_values import CutSheet, Filling, Load, Marking, Part, Path, Placed, Plan, Pocket, Unit
from nesting.routing.exchange import exchange_units, exchangeable, moved
from nesting.routing.mark import mark_path

FINE = MarkSetting("fine")
MACHINE = Machine(600, 400)
NO_PATH = Path((), 0, 0, 0, 0, 0)


def marking(name: str, *points: tuple[float, float]) -> Marking:
    """Make a marking of one open line."""
    part = Part("line", (Contour.polyline(points, closed=False),))
    return Marking(name, "fob", (Placed(name, 1, 0, 0, 0, (part,)),))


ACROSS, DOT, UP = (
    marking("across", (2, 2), (38, 2)),
    marking("dot", (19, 15), (20, 15)),
    marking("up", (2, 2), (2, 28)),
)
MARKINGS = {one.name: one for one in (ACROSS, DOT, UP)}


def pockets(count: int) -> dict[int, Pocket]:
    """Lay pockets in rows of three, every other one turned round."""
    outline = Region.rectangle(40, 30)
    places = [(50.0 * (k % 3), 40.0 * (k // 3), 180.0 * (k % 2)) for k in range(count)]
    return {
        k: Pocket(k, "fob", x + (40 if turn else 0), y + (30 if turn else 0), turn, outline.moved(x, y), ())
        for k, (x, y, turn) in enumerate(places, start=1)
    }


def routed(fillings: tuple[Filling, ...], there: dict[int, Pocket]) -> Path:
    """Order the marks of a load."""
    sheet = CutSheet("A", "s", tuple(there.values()), NO_PATH, 0)
    return mark_path(fillings, sheet, MARKINGS, lambda _: FINE, MACHINE, stop=Stop(None, 0.2))


@settings(max_examples=6, deadline=None)
@given(st.lists(st.sampled_from(sorted(MARKINGS)), min_size=3, max_size=5), st.integers(1, 9))
def test_nothing_is_shorter_than_the_exchange(marks: list[str], seed: int) -> None:
    """Of all ways to put the units into the pockets none takes less time, and every unit is there once."""
    there = pockets(len(marks))
    fillings = tuple(Filling(k, Unit("line", k), name) for k, name in enumerate(marks, start=1))
    path = routed(fillings, there)
    found = exchange_units(fillings, there, MARKINGS, path, MACHINE, (0.0, 0.0), seed) or fillings
    assert Counter((f.unit, f.marking) for f in found) == Counter((f.unit, f.marking) for f in fillings)
    assert [f.pocket for f in found] == list(there)
    reached = min(path.seconds, routed(found, there).seconds)
    least = min(
        routed(tuple(replace(f, marking=m) for f, m in zip(fillings, order, strict=True)), there).seconds
        for order in set(permutations(marks))
    )
    assert reached == pytest.approx(least, rel=0.01)


def test_only_units_marked_differently_in_like_pockets_can_change_places() -> None:
    """There is nothing to exchange between units that are alike, or in pockets for different blanks."""
    there = pockets(2)
    units = (Filling(1, Unit("a", 1), "dot"), Filling(2, Unit("b", 1), "up"))
    assert exchangeable(units, there)
    assert not exchangeable((units[0], replace(units[1], marking="dot")), there)
    assert not exchangeable(units, {**there, 2: replace(there[2], blank="tag")})
    bare = (units[0], replace(units[1], marking=None))
    assert exchange_units(bare, there, MARKINGS, routed(bare, there), MACHINE, (0, 0)) is None


def test_bare_units_stay_and_others_follow_their_marking() -> None:
    """What is stated for each pocket is brought there, and units with one marking keep their order."""
    there = pockets(4)
    names = ("dot", "up", None, "dot")
    fillings = tuple(Filling(k, Unit("line", k), name) for k, name in enumerate(names, start=1))
    found = moved(fillings, there, {1: "up", 2: "dot", 4: "dot"})
    assert [(f.pocket, f.unit.number) for f in found] == [(1, 2), (2, 1), (3, 3), (4, 4)]


def test_a_plan_has_the_shortest_arrangement() -> None:
    """From job to plan: no other arrangement of the load's units can be marked in less time."""
    plan = _plan()
    (load,) = plan.loads
    seconds = [_seconds(plan, load, order) for order in set(permutations(f.marking for f in load.fillings))]
    assert len(seconds) == math.comb(6, 3)
    assert load.mark_path.seconds <= min(seconds) * 1.002


def _plan() -> Plan:
    drawings = [((0, 0), (36, 0)), ((17, 13), (19, 13))]
    artworks = tuple(
        Artwork(f"{k}", Drawing(36, 26, (Shape((Contour.polyline(points, closed=False),)),)), "true")
        for k, points in enumerate(drawings)
    )
    area = Region.rectangle(36, 26).moved(2, 2)
    fob = Blank("fob", Region.rectangle(40, 30), 4.0, 2.0, 0.2, (0.0,), area, "fine")
    stock = Stock("s", 150, 110, 3, "plywood", margin=3)
    orders = tuple(OrderLine(artwork.name, "fob", 3, (artwork.name,)) for artwork in artworks)
    machine = replace(MACHINE, kerf={"plywood": 0.2})
    return make_plan(Job("t", machine, (FINE,), (stock,), (fob,), artworks, orders), effort=1)


def _seconds(plan: Plan, load: Load, order: tuple[str | None, ...]) -> float:
    fillings = [replace(f, marking=name) for f, name in zip(load.fillings, order, strict=True)]
    there = {one.name: one for one in plan.markings}
    sheet = plan.sheet(load.sheet)
    return mark_path(fillings, sheet, there, lambda _: FINE, plan.job.machine, stop=Stop(None, 0.2)).seconds
