"""Cut paths: every contour once, inner before outer, the figures those of the steps."""

import math
import random

import pytest
import shapely

from nesting.geometry.contour import Contour
from nesting.geometry.region import Region
from nesting.job.job import Machine
from nesting.packing.stop import Stop
from nesting.plan_values import Path, Pocket
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
