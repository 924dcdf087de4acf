"""Cut paths: every contour once, inner before outer, the figures those of the steps."""

import math
import random

import pytest
import shapely

from nesting.geometry.contour import Contour
from nesting.geometry.region import Region
from nesting.job.job import Machine
from nesting.motion.profile import move_time
from nesting.motion.time import contour_time
from nesting.packing.stop import Stop
from nesting.plan_values import Path, Pocket, Step
from nesting.routing.cut import Cut, cut_path
from nesting.routing.cut_task import inside_first
from tests.routing.paths import best_of_all, ends, random_contours, travelled

MACHINE = Machine(600, 400)


def pocket(number: int, *contours: Contour) -> Pocket:
    """Make a pocket with a path; its outline does not matter here."""
    return Pocket(number, "blank", 0, 0, 0, Region.rectangle(1, 1), contours)


def nested(chance: random.Random, box: tuple[float, float, float, float], depth: int) -> list[Contour]:
    """Rectangles strewn over the cells of a box, some with more of them inside."""
    x0, y0, x1, y1 = box
    columns, rows = chance.randint(1, 3), chance.randint(1, 2)
    contours = []
    for column in range(columns):
        for row in range(rows):
            width, height = (x1 - x0) / columns, (y1 - y0) / rows
            left, low = x0 + width * (column + 0.05), y0 + height * (row + 0.05)
            inner = (left, low, left + width * 0.9, low + height * 0.9)
            ring = Contour.polyline(
                [(inner[0], low), (inner[2], low), (inner[2], inner[3]), (left, inner[3])]
            )
            contours.append(ring.started(chance.randrange(4)))
            if depth and chance.random() < 0.6:
                contours += nested(chance, inner, depth - 1)
    return contours


def random_pockets(chance: random.Random) -> list[Pocket]:
    """Nested contours dealt out to pockets at random, so that pockets lie inside one another."""
    contours = nested(chance, (0, 0, 300, 200), 2)
    chance.shuffle(contours)
    hands: list[list[Contour]] = [[] for _ in range(chance.randint(1, len(contours)))]
    for contour in contours:
        chance.choice(hands).append(contour)
    return [pocket(k + 1, *hand) for k, hand in enumerate(hands)]


def assert_sound(pockets: list[Pocket], cut: Cut) -> None:
    """Every part once, what lies inside first, travel as stated."""
    path = cut.path
    parts = {(p.number, k): contour for p in cut.pockets for k, contour in enumerate(p.path)}
    drawn = {(p.number, k): contour for p in pockets for k, contour in enumerate(p.path)}
    assert all(parts[key].length == pytest.approx(drawn[key].length) for key in drawn)
    keys = [(step.pocket, step.part) for step in path.steps]
    assert sorted(keys) == sorted(parts)
    shapes = [shapely.Polygon([v[:2] for v in parts[key].vertices]) for key in keys]
    for later, shape in enumerate(shapes):
        assert not any(outer.contains_properly(shape) for outer in shapes[:later])
    run = [ends(parts[step.pocket, step.part], step.start) for step in path.steps]
    assert path.travel == pytest.approx(travelled(run), rel=1e-9)
    numbered = [ends(drawn[key]) for key in sorted(drawn)]
    assert path.numbered_travel == pytest.approx(travelled(numbered), rel=1e-9)


@pytest.mark.parametrize("seed", range(40))
def test_inner_first(seed: int) -> None:
    """In random nested sets every contour is cut once, before everything that contains it."""
    pockets = random_pockets(random.Random(seed))
    assert_sound(pockets, cut_path(pockets, MACHINE, stop=Stop(effort=0.02), seed=seed))


@pytest.mark.slow
def test_inner_first_often() -> None:
    """The same holds for a thousand more sets."""
    for seed in range(1000, 2000):
        pockets = random_pockets(random.Random(seed))
        assert_sound(pockets, cut_path(pockets, MACHINE, stop=Stop(effort=0.02), seed=seed))


@pytest.mark.parametrize("seed", range(10))
def test_shortest_with_precedence(seed: int) -> None:
    """A few nested contours are cut with the least travel of all allowed orders (at one travel speed)."""
    chance = random.Random(seed)
    contours = nested(chance, (0, 0, 300, 200), 1)[:6]
    # a machine of great acceleration: time grows with distance alone
    machine = Machine(600, 400, travel_speed=100, cut_speed=10, acceleration=1e12)
    path = cut_path([pocket(1, *contours)], machine, stop=Stop(effort=0.1)).path
    # a cut may begin between the corners too
    assert path.travel <= best_of_all(contours, inside_first(contours)) * (1 + 1e-6)


def test_inside_first() -> None:
    """Containment is seen for arcs, for open lines and across any nesting, not for what lies beside."""
    disc, hole = Contour.circle(60), Contour.circle(20)
    slit, beside = Contour.polyline([(-3, 0), (3, 0)], closed=False), Contour.circle(20, x=60)
    assert inside_first([disc, hole, slit, beside]) == [(1, 0), (2, 0), (2, 1)]
    near_the_arc = Contour.polyline([(29, -2), (29.9, 0), (29, 2)])
    assert inside_first([disc, near_the_arc]) == [(1, 0)]
    assert inside_first([disc, disc]) == []


def test_two_pockets_one_inside_the_other() -> None:
    """A pocket in the hole of another is cut before that hole and outline, whatever the numbers."""
    ring = Region(Contour.circle(100), (Contour.circle(60),))
    path = cut_path(
        [pocket(1, *ring.contours), pocket(2, Contour.circle(20))], MACHINE, stop=Stop(effort=0.1)
    ).path
    assert [(step.pocket, step.part) for step in path.steps] == [(2, 0), (1, 0), (1, 1)]


def test_figures() -> None:
    """Beam length is that of the contours, and the ordered path takes less time than the numbered one."""
    contours = random_contours(random.Random(3), 30)
    pockets = [pocket(k + 1, contour) for k, contour in enumerate(contours)]
    path = cut_path(pockets, MACHINE, stop=Stop(effort=0.3)).path
    assert path.beam == pytest.approx(math.fsum(contour.length for contour in contours))
    assert path.beam / MACHINE.cut_speed < path.seconds < path.numbered_seconds


def test_nothing_to_cut() -> None:
    """A sheet without pockets has an empty path."""
    assert cut_path([], MACHINE, stop=Stop(effort=0.1)).path == Path((), 0.0, 0.0, 0.0, 0.0, 0.0)


def grid_of_pockets(pitch: float, size: float, columns: int = 4, rows: int = 3) -> list[Pocket]:
    """Square pockets in a grid, a web of `pitch` less `size` between them."""
    square = Region.rectangle(size, size).outer
    return [
        pocket(k + 1, square.moved(20 + pitch * (k % columns), 20 + pitch * (k // columns)))
        for k in range(columns * rows)
    ]


def places(cut: Cut) -> list[tuple[Contour, Step]]:
    """Give the contours of a cut path with their steps, in order."""
    return [(cut.pockets[step.pocket - 1].path[step.part], step) for step in cut.path.steps]


def test_begins_between_corners() -> None:
    """Of two squares side by side each is begun on the edge that faces the way, nearest to the last end."""
    square = Region.rectangle(40, 40).outer
    cut = cut_path(
        [pocket(1, square.moved(0, 20)), pocket(2, square.moved(60, 5))],
        Machine(600, 400, acceleration=1e9), start=(20.0, 0.0), stop=Stop(effort=0.2),
    )  # fmt: skip
    (first, one), (second, two) = places(cut)
    assert first.vertices[one.start][1] == pytest.approx(20)
    assert second.vertices[two.start][0] == pytest.approx(60, abs=0.1)
    assert cut.path.travel < 20 + 41


@pytest.mark.parametrize("shape", ["square", "disc", "narrow", "ring"])
def test_lead_in_lies_in_the_waste(shape: str) -> None:
    """A lead-in runs from inside the pocket to its edge, not through what is cut before; it is beam."""
    contours = {
        "square": (Region.rectangle(40, 40).outer,),
        "disc": (Contour.circle(30, 20, 20),),
        "narrow": (Region.rectangle(40, 2.5).outer,),
        "ring": (Contour.circle(36, 20, 20), Contour.circle(30, 20, 20)),
    }[shape]
    machine = Machine(600, 400, lead_in=4.0)
    cut = cut_path([pocket(1, *contours)], machine, stop=Stop(effort=0.1))
    lengths = 0.0
    for contour, step in places(cut):
        assert step.lead is not None
        area = shapely.Polygon(contour.flattened(0.001))
        on = contour.vertices[step.start][:2]
        way = shapely.LineString([step.lead, on])
        lengths += way.length
        assert way.length > 0.9
        assert area.buffer(0.01).covers(way)
        if shape == "ring" and step.part == 0:
            hole = shapely.Polygon(contours[1].flattened(0.001))
            assert way.disjoint(hole)
    assert cut.path.beam == pytest.approx(math.fsum(c.length for c in contours) + lengths)


def test_lead_in_of_the_sheet_lies_outside() -> None:
    """The sheet's outline is cut after all pockets, begun outside of it."""
    outline = Region.rectangle(200.2, 150.2).outer.moved(-0.1, -0.1)
    cut = cut_path(
        grid_of_pockets(50, 30, 3, 2),
        Machine(600, 400, lead_in=3.0),
        outline=[outline],
        stop=Stop(effort=0.1),
    )
    last = cut.path.steps[-1]
    assert last.pocket == 0
    assert all(step.pocket > 0 for step in cut.path.steps[:-1])
    assert last.lead is not None
    assert shapely.Polygon(outline.points).distance(shapely.Point(last.lead)) == pytest.approx(3.0)


def test_thin_webs_last() -> None:
    """Two pockets with a thin web between them are cut after the others, begun away from it."""
    square = Region.rectangle(30, 30).outer
    corners = [(0, 0), (31, 0), (80, 0), (0, 80), (80, 80)]
    pockets = [pocket(k + 1, square.moved(20 + x, 20 + y)) for k, (x, y) in enumerate(corners)]
    cut = cut_path(pockets, Machine(600, 400, thin_web=2.0), stop=Stop(effort=0.1))
    assert sorted(step.pocket for step in cut.path.steps[-2:]) == [1, 2]
    for contour, step in places(cut)[-2:]:
        # the other one's edge across the web
        edge = {1: 51, 2: 50}[step.pocket]
        assert abs(contour.vertices[step.start][0] - edge) >= 2


@pytest.mark.parametrize("seed", range(4))
def test_neighbours_cool(seed: int) -> None:
    """Nothing near a cut is cut for a while after it, timed anew; waits are part of the time stated."""
    machine = Machine(600, 400, heat_distance=12.0, heat_time=25.0, pierce_time=0.5)
    pockets = grid_of_pockets(40, 30)
    cut = cut_path(pockets, machine, stop=Stop(effort=0.5), seed=seed)
    now, here = 0.0, 0j
    ended: list[tuple[shapely.Polygon, float]] = []
    for contour, step in places(cut):
        on, _ = ends(contour, step.start)
        now += move_time(abs(on - here), machine.travel_speed, machine.acceleration) + step.wait
        shape = shapely.Polygon(contour.points)
        assert all(now >= end + 25 - 1e-6 for other, end in ended if other.distance(shape) < 12)
        now += 0.5 + contour_time(contour, machine.cut_speed, machine.kinematics, step.start)
        ended.append((shape, now))
        here = on
    assert cut.path.seconds == pytest.approx(now)
    assert cut.path.times.wait == pytest.approx(math.fsum(step.wait for step in cut.path.steps))
    # twelve pockets leave room to go elsewhere meanwhile
    assert cut.path.times.wait < 15


@pytest.mark.parametrize("seed", range(6))
def test_bound_holds(seed: int) -> None:
    """The bound on a cut path's time lies below it, and not far."""
    chance = random.Random(seed)
    contours = random_contours(chance, chance.randint(1, 25))
    path = cut_path([pocket(1, *contours)], MACHINE, stop=Stop(effort=0.2)).path
    assert 0.9 * path.seconds < path.bound <= path.seconds
