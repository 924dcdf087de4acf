"""Closed formulas of motion against figures derived elsewhere and checked by numerical integration."""

import math

import pytest

from nesting.motion.profile import (
    arc_speed,
    areal_energy,
    circle_pieces,
    fastest_sweep,
    interval_of,
    junction_speed,
    move_time,
    overscan,
    raster_time,
    sweep_count,
    sweep_time,
)

# Source of every figure below: the motion section of the project's handbook of formulas, where each was
# derived apart from this code and checked by numerical integration; compared to all digits printed there.
MOVES = [
    (200, 100, 1000, 0, 0, "2.1"),
    (10, 100, 1000, 0, 0, "0.2"),
    (5, 100, 1000, 0, 0, "0.1414214"),
    (300, 500, 3000, 0, 0, "0.7666667"),
    (50, 120, 2000, 20, 10, "0.4627083"),
    (2, 120, 2000, 20, 10, "0.0501920"),
]
JUNCTIONS = [
    (30, "37.648201"),
    (45, "24.634398"),
    (90, "10.986841"),
    (120, "7.071068"),
    (150, "4.178506"),
]


def printed(value: float, like: str) -> str:
    """Print with as many decimals as the figure it is compared with."""
    return f"{value:.{len(like.partition('.')[2])}f}"


@pytest.mark.parametrize(("length", "speed", "acceleration", "start", "end", "expected"), MOVES)
def test_move_time(
    length: float, speed: float, acceleration: float, start: float, end: float, expected: str
) -> None:
    """A move takes the time printed in the handbook, whether or not it reaches the set speed."""
    assert printed(move_time(length, speed, acceleration, start, end), expected) == expected
    assert move_time(length, speed, acceleration, end, start) == pytest.approx(float(expected), rel=1e-6)


def test_move_too_short_to_brake() -> None:
    """A move that cannot get from one speed to the other is refused, and one that just can is not."""
    with pytest.raises(ValueError, match="too short"):
        move_time(0.9, 100, 500, 40, 10)
    assert move_time(1.5, 100, 500, 40, 10) == pytest.approx(30 / 500)


@pytest.mark.parametrize(("turn", "expected"), JUNCTIONS)
def test_junction_speed(turn: float, expected: str) -> None:
    """A corner is taken at the speed printed in the handbook, to the left as to the right."""
    assert printed(junction_speed(turn, 1000, 0.05), expected) == expected
    assert junction_speed(-turn, 1000, 0.05) == junction_speed(turn, 1000, 0.05)


def test_arc_speed() -> None:
    """An arc of 5 mm at 1000 mm/s² allows the speed printed in the handbook."""
    assert printed(arc_speed(5, 1000), "70.710678") == "70.710678"


def test_rasters() -> None:
    """Sweep counts, run-ups and times of rasters are those printed in the handbook."""
    assert sweep_count(30, 0.1) == 301
    assert overscan(400, 5000) == 16
    assert printed(raster_time(60, 30, 0.1, 400, 5000), "93.31") == "93.31"
    assert printed(raster_time(60, 30, 0.1, 400, 5000, return_speed=600), "175.31") == "175.31"
    assert sweep_count(40, 0.1) == 401
    assert printed(raster_time(80, 40, 0.1, 500, 8000), "114.285") == "114.285"
    assert printed(raster_time(20, 10, 0.1, 400, 5000), "21.21") == "21.21"


def test_fastest_sweep() -> None:
    """The fastest sweep is as printed in the handbook, and slower as well as faster ones take longer."""
    best = fastest_sweep(60, 5000)
    assert printed(best, "387.298335") == "387.298335"
    assert printed(sweep_time(60, best, 5000), "0.309839") == "0.309839"
    assert sweep_time(60, best, 5000) == pytest.approx(2 * math.sqrt(2 * 60 / 5000))
    assert min(sweep_time(60, best * 0.99, 5000), sweep_time(60, best * 1.01, 5000)) > sweep_time(
        60, best, 5000
    )


@pytest.mark.parametrize(("radius", "tolerance", "pieces"), [(45, 0.01, 150), (45, 0.05, 67), (5, 0.01, 50)])
def test_chords_of_a_circle(radius: float, tolerance: float, pieces: int) -> None:
    """A circle takes as many chords as the handbook prints, and one chord fewer strays too far."""
    assert circle_pieces(radius, tolerance) == pieces
    strays = [radius * (1 - math.cos(math.pi / count)) for count in (pieces, pieces - 1)]
    assert strays[0] <= tolerance < strays[1]


def test_intervals_and_energy() -> None:
    """Lines per inch and energy are as the handbook prints them."""
    assert printed(areal_energy(30, 400, 0.1), "0.75") == "0.75"
    assert interval_of(254) == pytest.approx(25.4 / 254)
