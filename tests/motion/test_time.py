"""Times of whole contours and fills against the same law integrated numerically."""

import math
import random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.geometry.contour import Arc, Contour
from nesting.job.kinematics import Kinematics
from nesting.motion.moves import move_times, travel_time
from nesting.motion.profile import jump_speed, junction_speed, move_time
from nesting.motion.sweeping import sweeps_time
from nesting.motion.time import contour_time, corner_speeds, start_times

STEADY = Kinematics(1000)
BRISK = Kinematics(5000)
SQUARE = Contour.polyline([(0, 0), (40, 0), (40, 40), (0, 40)])


@pytest.mark.parametrize(("speed", "expected"), [(20, "8.0321856"), (100, "1.9377003")])
def test_square(speed: float, expected: str) -> None:
    """A square takes the time printed in the handbook (derived there, checked by integration)."""
    assert f"{contour_time(SQUARE, speed, STEADY):.7f}" == expected


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


def of_axes(limits: tuple[float, float] | None, heading: float) -> float:
    """Give the longest vector in a direction of which neither axis has more than its limit."""
    if limits is None:
        return math.inf
    c, s = abs(math.cos(heading)), abs(math.sin(heading))
    return min(limits[0] / c if c > 1e-12 else math.inf, limits[1] / s if s > 1e-12 else math.inf)


def worst(
    limits: tuple[float, float] | None, first: float, last: float, most: float, across: float = 0.0
) -> float:
    """Give the least that the axes allow over the headings of a stretch, tried one by one."""
    tried = [first + (last - first) * k / 2000 + across for k in range(2001 if last != first else 1)]
    return min(most, *(of_axes(limits, heading) for heading in tried))


def corner(before: float, after: float, machine: Kinematics) -> float:
    """Square of the speed at which a corner between two headings is taken."""
    turn = abs(math.remainder(after - before, 2 * math.pi))
    if machine.velocity_jump is not None:
        chord = 2 * math.sin(turn / 2)
        return (machine.velocity_jump / chord) ** 2 if chord else math.inf
    inward = math.atan2(math.sin(after) - math.sin(before), math.cos(after) - math.cos(before))
    c = math.cos(turn / 2)
    acceleration = min(machine.acceleration, of_axes(machine.axis_accelerations, inward))
    return acceleration * machine.junction_deviation * c / (1 - c) if c < 1 else math.inf


def integrated(contour: Contour, speed: float, machine: Kinematics, pieces: int = 2000) -> float:
    """Integrate the law step by step: speed limits at every place, no more than the acceleration between."""
    squares, steps, rates = [0.0], [], []
    rows = headings(contour)
    for k, (length, radius, first, last) in enumerate(rows):
        along = worst(machine.axis_accelerations, first, last, machine.acceleration)
        across = worst(machine.axis_accelerations, first, last, machine.acceleration, math.pi / 2)
        limit = min(worst(machine.axis_speeds, first, last, speed) ** 2, across * radius)
        squares[-1] = min(squares[-1], limit)
        squares += [limit] * pieces
        steps += [length / pieces] * pieces
        rates += [along] * pieces
        if k + 1 < len(rows):
            squares[-1] = min(limit, corner(last, rows[k + 1][2], machine))
    squares[-1] = 0.0
    for k, step in enumerate(steps):
        squares[k + 1] = min(squares[k + 1], squares[k] + 2 * rates[k] * step)
    for k in range(len(steps) - 1, -1, -1):
        squares[k] = min(squares[k], squares[k + 1] + 2 * rates[k] * steps[k])
    return math.fsum(
        2 * s / (math.sqrt(u) + math.sqrt(v)) for s, u, v in zip(steps, squares, squares[1:], strict=False)
    )


def any_machine(chance: random.Random) -> Kinematics:
    """Half of the machines have axes that differ, half of them the other law for corners."""
    acceleration = chance.uniform(300, 8000)
    jump = chance.choice([None, chance.uniform(1, 40)])
    if chance.random() < 0.5:
        return Kinematics(acceleration, velocity_jump=jump)
    speeds, rates = ((chance.uniform(*span), chance.uniform(*span)) for span in ((5, 400), (200, 9000)))
    return Kinematics(acceleration, speeds, rates, chance.uniform(0.005, 0.2), jump)


@pytest.mark.parametrize("seed", range(200))
def test_random_paths(seed: int) -> None:
    """The time of a random chain of lines and arcs is that of a numerical integration within 0.1 %."""
    chance = random.Random(seed)
    vertices = [
        (chance.uniform(0, 60), chance.uniform(0, 60), chance.choice([0.0, 0.0, chance.uniform(-1.5, 1.5)]))
        for _ in range(chance.randint(2, 12))
    ]
    contour = Contour(tuple(vertices), closed=chance.random() < 0.5)
    speed, machine = chance.uniform(5, 500), any_machine(chance)
    expected = integrated(contour, speed, machine)
    assert contour_time(contour, speed, machine) == pytest.approx(expected, rel=1e-3)
    assert contour_time(contour.reversed(), speed, machine) == pytest.approx(expected, rel=1e-3)
    turned = start_times(contour.moved(turn=-25), (0,), speed, machine, 25.0)
    assert float(turned[0]) == pytest.approx(expected, rel=1e-3)


@given(
    st.lists(st.tuples(st.floats(0, 60), st.floats(0, 60), st.floats(-1.5, 1.5)), min_size=2, max_size=6),
    st.data(),
)
def test_nearly_doubled_vertices(vertices: list[tuple[float, float, float]], data: st.DataObject) -> None:
    """Vertices that all but coincide, with an arc between them, leave the time a finite number."""
    k = data.draw(st.integers(0, len(vertices) - 1))
    apart = data.draw(st.sampled_from([0.0, 1e-12, 4e-7, 6e-7, 1e-6, 1e-5]))
    bulge = data.draw(st.sampled_from([0.0, 1e-9, 0.4, -1.0, 30.0]))
    x, y, own = vertices[k]
    doubled = [*vertices[:k], (x, y, bulge), (x + apart, y, own), *vertices[k + 1 :]]
    closed = data.draw(st.booleans())
    speed, machine = 120.0, data.draw(st.sampled_from([Kinematics(), Kinematics(2000, (90, 60), (900, 400))]))
    with np.errstate(divide="raise", invalid="raise"):
        times = start_times(Contour(tuple(doubled), closed), range(len(doubled)), speed, machine)
    assert np.isfinite(times).all()
    assert (times >= 0).all()


def test_starts() -> None:
    """A closed contour timed from another vertex takes what the contour begun there takes."""
    outline = Contour(((0, 0, 0.3), (30, 5, 0), (44, 40, -0.2), (3, 25, 0)))
    times = start_times(outline, range(4), 120, Kinematics(2000))
    assert times.tolist() == pytest.approx(
        [contour_time(outline.started(k), 120, Kinematics(2000)) for k in range(4)], rel=1e-9
    )
    assert len({round(time, 6) for time in times.tolist()}) > 1


def test_smooth_circle() -> None:
    """Two half circles in a row are taken as one, without a stop where they meet."""
    circle = Contour.circle(40)
    whole = move_time(math.pi * 40, 100, 1000)
    assert contour_time(circle, 100, STEADY) == pytest.approx(whole, rel=1e-9)


def test_doubled_vertex() -> None:
    """A vertex given twice changes nothing."""
    doubled = Contour.polyline([(0, 0), (40, 0), (40, 0), (40, 40), (0, 40)])
    assert contour_time(doubled, 100, STEADY) == pytest.approx(contour_time(SQUARE, 100, STEADY), rel=1e-12)


def test_travel_time() -> None:
    """Travel takes the time of a move from rest to rest, at every length."""
    for length in (0.0, 0.3, 10.0, 52.0, 900.0):
        assert float(travel_time(length, 400, 3000)) == pytest.approx(move_time(length, 400, 3000))


def test_sweeps() -> None:
    """Gaps on a line are crossed at its speed, and a far line costs a move on top of turning round."""
    line = [(0.0, 0.0, 60.0, 0.0)]
    alone = sweeps_time(line, 400, 400, BRISK)
    assert alone == pytest.approx(60 / 400 + 2 * 400 / 5000)
    assert sweeps_time([(0, 0, 20, 0), (50, 0, 60, 0)], 400, 400, BRISK) == pytest.approx(alone)
    back = [(0.0, 0.0, 60.0, 0.0), (60.0, 0.1, 0.0, 0.1)]
    assert sweeps_time(back, 400, 400, BRISK) == pytest.approx(2 * alone)
    shifted = [(0.0, 0.0, 60.0, 0.0), (100.0, 0.1, 40.0, 0.1)]
    assert sweeps_time(shifted, 400, 400, BRISK) == pytest.approx(2 * alone + move_time(40, 400, 5000))
    assert sweeps_time([], 400, 400, BRISK) == 0


def test_an_arc_of_no_length_takes_no_time() -> None:
    """Where two vertices of an offset coincide, the arc between them changes no time and makes no NaN."""
    plain = Contour(((0, 0, 0), (30, 0, 0), (30, 20, 0), (0, 20, 0)))
    doubled = Contour(((0, 0, 0), (30, 0, 0.3), (30, 0, 0), (30, 20, 0), (0, 20, 0)))
    assert contour_time(doubled, 100, STEADY) >= contour_time(plain, 100, STEADY) - 1e-9
    assert contour_time(doubled, 100, STEADY) < 2 * contour_time(plain, 100, STEADY)


def test_slanting_moves() -> None:
    """A move along an axis has its limits, a slanting one those that its direction leaves."""
    machine = Kinematics(4000, (300, 400), (3000, 2000))
    hops = [(100, 0), (0, -100), (60, 80), (0, 0)]
    expected = [move_time(100, 300, 3000), move_time(100, 400, 2000), move_time(100, 500, 2500), 0.0]
    assert move_times(hops, 900, machine).tolist() == pytest.approx(expected)
    assert move_times(hops, 120, Kinematics(4000)).tolist() == pytest.approx(
        [move_time(length, 120, 4000) if length else 0.0 for length in (100, 100, 100, 0)]
    )


def test_laws_for_corners() -> None:
    """Corners are taken as the closed formulas say, by the one law and by the other."""
    turns = np.radians([30, 90, 150])
    changes = np.column_stack([np.cos(turns) - 1, np.sin(turns)])
    by_deviation = corner_speeds(changes, Kinematics(1000)).tolist()
    assert by_deviation == pytest.approx([junction_speed(turn, 1000) for turn in (30, 90, 150)])
    by_jump = corner_speeds(changes, Kinematics(1000, velocity_jump=20)).tolist()
    assert by_jump == pytest.approx([jump_speed(turn, 20) for turn in (30, 90, 150)])


def test_sweeps_of_axes_that_differ() -> None:
    """Sweeps have the limits of their direction, also on a blank that lies turned."""
    machine = Kinematics(5000, (300, 100), (4000, 1000))
    line = [(0.0, 0.0, 60.0, 0.0)]
    assert sweeps_time(line, 400, 400, machine) == pytest.approx(60 / 300 + 2 * 300 / 4000)
    assert sweeps_time(line, 400, 400, machine, 90.0) == pytest.approx(60 / 100 + 2 * 100 / 1000)
    upright = [(0.0, 0.0, 0.0, 60.0), (5.0, 60.0, 5.0, 0.0)]
    assert sweeps_time(upright, 400, 400, machine, -90.0) == pytest.approx(
        sweeps_time([(0.0, 0.0, 60.0, 0.0), (60.0, -5.0, 0.0, -5.0)], 400, 400, machine)
    )
