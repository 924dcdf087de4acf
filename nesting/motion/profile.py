"""Closed formulas for single moves under a speed limit and one constant acceleration.

Lengths in mm, speeds in mm/s, accelerations in mm/s², angles in degrees, times in s. The formulas
follow from uniformly accelerated motion; each was checked against numerical integration.
"""

import math

from nesting.job.kinematics import JUNCTION_DEVIATION_MM


def move_time(
    length: float, speed: float, acceleration: float, start: float = 0.0, end: float = 0.0
) -> float:
    """Time of a straight move that may reach `speed`, from speed `start` to speed `end`.

    Raises
    ------
    ValueError
        If the length is too short to get from one speed to the other.

    Examples
    --------
    >>> move_time(200, 100, 1000)
    2.1
    >>> round(move_time(5, 100, 1000), 7)
    0.1414214
    """
    squares = start * start + end * end
    if abs(start * start - end * end) > 2 * acceleration * length * (1 + 1e-9):
        raise ValueError(f"{length:g} mm is too short to change from {start:g} to {end:g} mm/s")
    peak = math.sqrt(acceleration * length + squares / 2)
    if peak < speed:
        return (2 * peak - start - end) / acceleration
    cruise = length - (2 * speed * speed - squares) / (2 * acceleration)
    return (2 * speed - start - end) / acceleration + cruise / speed


def junction_speed(turn: float, acceleration: float, deviation: float = JUNCTION_DEVIATION_MM) -> float:
    """Speed kept through a corner that turns by `turn` degrees (0 is straight on).

    It is the speed at which the circle that touches both legs and passes the corner at distance
    `deviation` asks for just the machine's acceleration.

    >>> round(junction_speed(90, 1000), 6)
    10.986841
    >>> junction_speed(0, 1000), junction_speed(180, 1000)
    (inf, 0.0)
    """
    c = max(math.cos(math.radians(turn) / 2), 0.0) if abs(turn) < 180 else 0.0
    return math.sqrt(acceleration * deviation * c / (1 - c)) if c < 1 else math.inf


def jump_speed(turn: float, jump: float) -> float:
    """Speed at which a corner that turns by `turn` degrees changes the velocity by `jump` mm/s.

    It is the other law for corners: the base of the triangle of both velocities is the jump.

    >>> round(jump_speed(60, 20), 9), round(jump_speed(180, 20), 9), jump_speed(0, 20)
    (20.0, 10.0, inf)
    """
    sine = math.sin(math.radians(min(abs(turn), 180.0)) / 2)
    return jump / (2 * sine) if sine else math.inf


def arc_speed(radius: float, acceleration: float) -> float:
    """Speed at which an arc asks for just the machine's acceleration.

    >>> round(arc_speed(5, 1000), 6)
    70.710678
    """
    return math.sqrt(acceleration * radius)


def overscan(speed: float, acceleration: float) -> float:
    """Run-up in mm that a sweep needs on either side to mark at constant speed.

    >>> overscan(400, 5000)
    16.0
    """
    return speed * speed / (2 * acceleration)


def sweep_time(width: float, speed: float, acceleration: float) -> float:
    """Time of one sweep with its run-up and run-out, from rest to rest.

    >>> sweep_time(60, 400, 5000)
    0.31
    """
    return width / speed + 2 * speed / acceleration


def fastest_sweep(width: float, acceleration: float) -> float:
    """Speed at which a sweep of this width takes the least time: faster is slower.

    >>> round(fastest_sweep(60, 5000), 6)
    387.298335
    """
    return math.sqrt(acceleration * width / 2)


def sweep_count(height: float, interval: float) -> int:
    """Count the sweeps that cover a height, one on each edge if the interval divides it.

    >>> sweep_count(30, 0.1)
    301
    """
    return math.floor(height / interval + 1e-9) + 1


def circle_pieces(radius: float, tolerance: float) -> int:
    """Count the chords that stand for a full circle and stray no more than `tolerance` mm from it.

    >>> circle_pieces(45, 0.01), circle_pieces(45, 0.05), circle_pieces(5, 0.01)
    (150, 67, 50)
    """
    return math.ceil(math.pi / math.acos(max(1 - tolerance / radius, -1.0)))


def interval_of(lines_per_inch: float) -> float:
    """Distance in mm between sweeps of which so many lie in an inch.

    >>> round(interval_of(254), 9)
    0.1
    """
    return 25.4 / lines_per_inch


def areal_energy(power: float, speed: float, interval: float) -> float:
    """Energy in J/mm² that a fill leaves, from the beam's power in W.

    >>> round(areal_energy(30, 400, 0.1), 9)
    0.75
    """
    return power / (speed * interval)


def raster_time(
    width: float, height: float, interval: float, speed: float, acceleration: float,
    return_speed: float | None = None,
) -> float:  # fmt: skip
    """Time to sweep a rectangle to and fro; with `return_speed` one way only, beam off on the way back.

    >>> round(raster_time(60, 30, 0.1, 400, 5000), 2), round(raster_time(60, 30, 0.1, 400, 5000, 600), 2)
    (93.31, 175.31)
    """
    count = sweep_count(height, interval)
    marking = count * sweep_time(width, speed, acceleration)
    if return_speed is None:
        return marking
    back = width + 2 * overscan(speed, acceleration)
    return marking + (count - 1) * move_time(back, return_speed, acceleration)
