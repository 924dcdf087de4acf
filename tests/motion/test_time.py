"""Times of whole contours and fills against the same law integrated numerically."""

import math
import random

import pytest

from nesting.geometry.contour import Arc, Contour
from nesting.motion.profile import move_time
from nesting.motion.time import contour_time, start_times, sweeps_time, travel_time

SQUARE = Contour.polyline([(0, 0), (40, 0), (40, 40), (0, 40)])


@pytest.mark.parametrize(("speed", "expected"), [(20, "8.0321856"), (100, "1.9377003")])
def test_square(speed: float, expected: str) -> None:
    """A square takes the time printed in the handbook (derived there, checked by integration)."""
    assert f"{contour_time(SQUARE, speed, 1000):.7f}" == expected


def headings(contour: Contour) -> list[tuple[float, float, float, float]]:
    """Length, radius, first and last heading of each stretch, from the centres of its arcs."""
    rows = []
    for a, b in contour.segments:
        if a[2]:
            arc = Arc.between(a, b)
            quarter = math.copysign(math.pi / 2, arc.sweep)
            first, last = arc.start + quarter, arc.start + arc.sweep + quarter
            rows.append((abs(arc.sweep) * arc.radius, arc.radius, first, last))
        else:
            heading = math.atan2(b[1] - a[1], b[0] - a[0])
            rows.append((math.dist(a[:2], b[:2]), math.inf, heading, heading))
    return rows


def integrated(contour: Contour, speed: float, acceleration: float, pieces: int = 2000) -> float:
    """Integrate the law step by step: speed limits at every place, no more than the acceleration between."""
    squares, steps = [0.0], []
    rows = headings(contour)
    for k, (length, radius, _, last) in enumerate(rows):
        limit = min(speed**2, acceleration * radius)
        squares[-1] = min(squares[-1], limit)
        squares += [limit] * pieces
        steps += [length / pieces] * pieces
        if k + 1 < len(rows):
            turn = abs(math.remainder(rows[k + 1][2] - last, 2 * math.pi))
            c = math.cos(turn / 2)
            squares[-1] = min(limit, acceleration * 0.05 * c / (1 - c) if c < 1 else math.inf)
    squares[-1] = 0.0
    for k, step in enumerate(steps):
        squares[k + 1] = min(squares[k + 1], squares[k] + 2 * acceleration * step)
    for k in range(len(steps) - 1, -1, -1):
        squares[k] = min(squares[k], squares[k + 1] + 2 * acceleration * steps[k])
    return math.fsum(
        2 * s / (math.sqrt(u) + math.sqrt(v)) for s, u, v in zip(steps, squares, squares[1:], strict=False)
    )


@pytest.mark.parametrize("seed", range(200))
def test_random_paths(seed: int) -> None:
    """The time of a random chain of lines and arcs is that of a numerical integration within 0.1 %."""
    chance = random.Random(seed)
    vertices = [
        (chance.uniform(0, 60), chance.uniform(0, 60), chance.choice([0.0, 0.0, chance.uniform(-1.5, 1.5)]))
        for _ in range(chance.randint(2, 12))
    ]
    contour = Contour(tuple(vertices), closed=chance.random() < 0.5)
    speed, acceleration = chance.uniform(5, 500), chance.uniform(300, 8000)
    expected = integrated(contour, speed, acceleration)
    assert contour_time(contour, speed, acceleration) == pytest.approx(expected, rel=1e-3)
    assert contour_time(contour.reversed(), speed, acceleration) == pytest.approx(expected, rel=1e-3)


def test_starts() -> None:
    """A closed contour timed from another vertex takes what the contour begun there takes."""
    outline = Contour(((0, 0, 0.3), (30, 5, 0), (44, 40, -0.2), (3, 25, 0)))
    times = start_times(outline, range(4), 120, 2000)
    assert times.tolist() == pytest.approx(
        [contour_time(outline.started(k), 120, 2000) for k in range(4)], rel=1e-9
    )
    assert len({round(time, 6) for time in times.tolist()}) > 1


def test_smooth_circle() -> None:
    """Two half circles in a row are taken as one, without a stop where they meet."""
    circle = Contour.circle(40)
    whole = move_time(math.pi * 40, 100, 1000)
    assert contour_time(circle, 100, 1000) == pytest.approx(whole, rel=1e-9)


def test_doubled_vertex() -> None:
    """A vertex given twice changes nothing."""
    doubled = Contour.polyline([(0, 0), (40, 0), (40, 0), (40, 40), (0, 40)])
    assert contour_time(doubled, 100, 1000) == pytest.approx(contour_time(SQUARE, 100, 1000), rel=1e-12)


def test_travel_time() -> None:
    """Travel takes the time of a move from rest to rest, at every length."""
    for length in (0.0, 0.3, 10.0, 52.0, 900.0):
        assert float(travel_time(length, 400, 3000)) == pytest.approx(move_time(length, 400, 3000))


def test_sweeps() -> None:
    """Gaps on a line are crossed at its speed, and a far line costs a move on top of turning round."""
    line = [(0.0, 0.0, 60.0, 0.0)]
    alone = sweeps_time(line, 400, 400, 5000)
    assert alone == pytest.approx(60 / 400 + 2 * 400 / 5000)
    assert sweeps_time([(0, 0, 20, 0), (50, 0, 60, 0)], 400, 400, 5000) == pytest.approx(alone)
    back = [(0.0, 0.0, 60.0, 0.0), (60.0, 0.1, 0.0, 0.1)]
    assert sweeps_time(back, 400, 400, 5000) == pytest.approx(2 * alone)
    shifted = [(0.0, 0.0, 60.0, 0.0), (100.0, 0.1, 40.0, 0.1)]
    assert sweeps_time(shifted, 400, 400, 5000) == pytest.approx(2 * alone + move_time(40, 400, 5000))
    assert sweeps_time([], 400, 400, 5000) == 0


def test_an_arc_of_no_length_takes_no_time() -> None:
    """Where two vertices of an offset coincide, the arc between them changes no time and makes no NaN."""
    plain = Contour(((0, 0, 0), (30, 0, 0), (30, 20, 0), (0, 20, 0)))
    doubled = Contour(((0, 0, 0), (30, 0, 0.3), (30, 0, 0), (30, 20, 0), (0, 20, 0)))
    assert contour_time(doubled, 100, 1000) >= contour_time(plain, 100, 1000) - 1e-9
    assert contour_time(doubled, 100, 1000) < 2 * contour_time(plain, 100, 1000)
