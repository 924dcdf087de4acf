"""Times worked out anew: travel by its closed law, cuts by integrating the machine's law step by step."""

import math

import numpy as np

from nesting.check.distances import Places
from nesting.check.solids import Floats
from nesting.geometry.contour import Contour
from nesting.job.job import Machine

_PIECES = 64
_SHARES = (1 - np.cos(np.linspace(0, np.pi, _PIECES + 1))) / 2
"""Where a stretch is cut for the integration: finer towards its ends, where the speed changes."""

_NONE_MM = 1e-6
"""Stretches no longer than this are left out."""


def travel_seconds(way: complex, machine: Machine) -> float:
    """Time of a straight move from rest to rest."""
    length, x, y = abs(way), abs(way.real), abs(way.imag)
    if length == 0:
        return 0.0
    fast_x, fast_y = machine.axis_speeds or (math.inf, math.inf)
    brisk_x, brisk_y = machine.axis_accelerations or (math.inf, math.inf)
    # the axis that needs longer for its part sets the pace
    v = length / max(length / machine.travel_speed, x / fast_x, y / fast_y)
    a = length / max(length / machine.acceleration, x / brisk_x, y / brisk_y)
    return 2 * math.sqrt(length / a) if length < v * v / a else length / v + v / a


def cut_seconds(contour: Contour, start: int, lead: complex | None, machine: Machine) -> float:
    """Time to cut a contour from one of its vertices, a lead-in and the pauses of the beam included."""
    table = np.array(contour.vertices, dtype=float)
    if contour.closed:
        table = np.roll(table, -start, axis=0)
        table = np.vstack([table, [*table[0, :2], 0.0]])
    if lead is not None:
        table = np.vstack([[lead.real, lead.imag, 0.0], table])
    return machine.cut_dwell + _integrated(table[:, 0] + 1j * table[:, 1], table[:-1, 2], machine)


def _integrated(places: Places, bulges: Floats, machine: Machine) -> float:
    """Integrate from rest to rest: speed limits everywhere, no more than the acceleration between."""
    chords = np.diff(places)
    real = np.abs(chords) > _NONE_MM
    chords, halves = chords[real], 2 * np.arctan(bulges[real])
    if not len(chords):
        return 0.0
    lengths = np.abs(chords) / np.sinc(halves / np.pi)
    bent = halves != 0
    radii = np.where(bent, lengths / np.where(bent, 2 * np.abs(halves), 1), np.inf)
    headings = np.angle(chords)[:, None] + halves[:, None] * (2 * _SHARES - 1)
    rates = _allowed(machine.axis_accelerations, headings, machine.acceleration)
    across = _allowed(machine.axis_accelerations, headings + np.pi / 2, machine.acceleration)
    tops = np.minimum(_allowed(machine.axis_speeds, headings, machine.cut_speed) ** 2, across * radii)
    caps = np.repeat(tops, _PIECES)
    caps = np.minimum(np.append(caps, 0.0), np.concatenate([[0.0], caps]))
    inner = np.arange(1, len(chords)) * _PIECES
    caps[inner] = np.minimum(caps[inner], _corners(headings[:-1, -1], headings[1:, 0], machine))
    steps = np.outer(lengths, np.diff(_SHARES)).ravel()
    gained = np.concatenate([[0.0], np.cumsum(2 * steps * np.repeat(rates, _PIECES))])
    squares = np.minimum.accumulate(caps - gained) + gained
    squares = np.minimum.accumulate((squares + gained)[::-1])[::-1] - gained
    speeds = np.sqrt(squares.clip(0))
    return float((2 * steps / np.maximum(speeds[1:] + speeds[:-1], 1e-12)).sum())


def _allowed(limits: tuple[float, float] | None, headings: Floats, most: float) -> Floats:
    """Give what the axes leave in the worst of some headings, shape (n, headings)."""
    if limits is None:
        return np.full(len(headings), most)
    ways = np.exp(1j * headings)
    share = np.maximum(np.abs(ways.real) / limits[0], np.abs(ways.imag) / limits[1]).max(axis=1)
    return np.asarray(np.minimum(most, 1 / share))


def _corners(before: Floats, after: Floats, machine: Machine) -> Floats:
    """Squares of the speeds at which corners are taken."""
    change = np.exp(1j * after) - np.exp(1j * before)
    chord = np.maximum(np.abs(change), 1e-9)
    if machine.velocity_jump is not None:
        return np.asarray((machine.velocity_jump / chord) ** 2)
    rates = _allowed(machine.axis_accelerations, np.angle(change)[:, None], machine.acceleration)
    cosine = np.sqrt((1 - chord**2 / 4).clip(0))
    return np.asarray(rates * machine.junction_deviation * cosine * (1 + cosine) / (chord / 2) ** 2)
