"""Seats of random bodies against samples of the solid, which know no formula of a seat."""

import random

import pytest

from nesting.body.body import Body, Sphere, Turned
from nesting.body.rest import level_shim
from nesting.body.solid import Solid
from nesting.check.sampled import Sampled
from nesting.check.seats import outline_fault


def random_solid(seed: int) -> tuple[Solid, float]:
    """Draw a body, how it is laid, and a thickness of sheet."""
    draw = random.Random(seed)
    thickness = draw.choice((3.0, 4.0, 6.0, 9.0, 12.0))
    kind = draw.choice(("cylinder", "tapered", "tapered", "tapered", "stepped", "sphere"))
    length, diameter = draw.uniform(40, 260), draw.uniform(9, 110)
    body: Body = Sphere(diameter / 2)
    shim = 0.0
    if kind == "cylinder":
        body = Turned.cylinder(diameter, length)
    elif kind == "tapered":
        ends = [diameter, diameter + draw.uniform(0.05, 0.35) * min(length, diameter)]
        if draw.random() < 0.5:
            ends.reverse()
        body = Turned.tapered(ends[0], ends[1], length)
        shim = draw.choice((0.0, 0.0, 0.2, 1.0)) * level_shim(body)
    elif kind == "stepped":
        body = stepped(draw, length, diameter)
    return Solid(body, shim=shim), thickness


def stepped(draw: random.Random, length: float, diameter: float) -> Turned:
    """Draw a profile of two to five stations, some of them steps."""
    stops = sorted(draw.uniform(0.1, 0.9) * length for _ in range(draw.randint(0, 2)))
    profile = [(0.0, diameter / 2 * draw.uniform(0.6, 1))]
    for stop in stops:
        profile.append((stop, diameter / 2 * draw.uniform(0.6, 1)))
        if draw.random() < 0.5:
            profile.append((stop, diameter / 2 * draw.uniform(0.6, 1)))
    return Turned((*profile, (length, diameter / 2 * draw.uniform(0.6, 1))))


def fault_of(seed: int) -> str | None:
    solid, thickness = random_solid(seed)
    body = Sampled(solid, thickness)
    found = solid.seat(thickness)
    wanted = body.shadow(thickness)
    if found is None or wanted.is_empty:
        assert found is None or found.area < 1, "samples see nothing below the face"
        return None
    silhouette = outline_fault(solid.outline(thickness).shape("on", 1e-4), body.shadow(body.peak))
    return outline_fault(found.shape("on", 1e-4), wanted) or silhouette


@pytest.mark.parametrize("seed", range(12))
def test_random_seats(seed: int) -> None:
    """A seat and a silhouette are at most 0.01 mm too small and 0.05 mm too large anywhere."""
    assert fault_of(seed) is None


@pytest.mark.slow
def test_five_hundred_random_seats() -> None:
    """The same for 500 random bodies: cylinders, frusta with and without shims, stepped bodies, spheres."""
    faults = {seed: fault for seed in range(500) if (fault := fault_of(seed))}
    assert not faults
