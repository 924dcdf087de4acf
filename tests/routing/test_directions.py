"""The direction of fills and the places of units, chosen by the time that sweeping takes."""

import pytest

from nesting.artwork.fill import Sweep, hatch_apart
from nesting.geometry.contour import Contour
from nesting.geometry.region import Region
from nesting.job.job import Machine, MarkSetting
from nesting.packing.sheet_plan import AssignedLoad
from nesting.packing.stop import Stop
from nesting.plan_values import Marking, Part, Placed, Pocket, Unit
from nesting.routing.directions import Sweeping, arrange_units, choose_directions

MACHINE = Machine(600, 400, travel_speed=500, acceleration=4000)
SETTINGS = {"blank": MarkSetting("fine", speed=200)}


def on_grid(outline: Contour, interval: float, angle: float = 0.0) -> tuple[Sweep, ...]:
    """Fill an area with lines of the common grid."""
    return hatch_apart([([outline], "nonzero")], interval, angle, grid=True)[0]


def bar(name: str, width: float, height: float, angle: float) -> Marking:
    """Make a marking that fills a rectangle."""
    outline = Region.rectangle(width, height).outer
    sweeps = on_grid(outline, 0.1, angle)
    return Marking(name, "blank", (Placed("art", 1, 0, 0, 0, (Part("fill", (outline,), sweeps=sweeps),)),))


def direction(marking: Marking) -> float:
    """Give 90 for fills that run up and down, otherwise 0."""
    x0, _, x1, _ = marking.parts[0].sweeps[0]
    return 90 if x0 == x1 else 0


@pytest.mark.parametrize(("width", "height", "expected"), [(6, 30, 90), (30, 6, 0)])
def test_along_the_longer_side(width: float, height: float, expected: float) -> None:
    """A unit by itself is swept along the longer side of its fill."""
    along, across = ({"bar": bar("bar", width, height, angle)} for angle in (0, 90))
    loads = [[((10.0, 10.0, 0.0), "bar")]]
    chosen = choose_directions(loads, Sweeping(along, SETTINGS, MACHINE), across, Stop(effort=9))
    assert direction(chosen["bar"]) == expected


def test_along_the_row() -> None:
    """High narrow fills side by side are swept along their row, over all of them at once."""
    along, across = ({"bar": bar("bar", 6, 10, angle)} for angle in (0, 90))
    row = [((8.0 * k, 0.0, 0.0), "bar") for k in range(12)]
    sweeping = Sweeping(along, SETTINGS, MACHINE)
    assert direction(choose_directions([row], sweeping, across, Stop(effort=9))["bar"]) == 0
    alone = [[unit] for unit in row]
    assert direction(choose_directions(alone, sweeping, across, Stop(effort=9))["bar"]) == 90


def test_units_alike_come_to_lie_in_a_row() -> None:
    """Units of two markings, mixed over two rows, are exchanged so that each marking has a row."""
    # fills whose heights do not meet: only units alike can be swept together
    low, high = bar("low", 16, 6, 0), bar("high", 16, 6, 0)
    part = high.parts[0]
    lifted = Part(
        "fill",
        (part.contours[0].moved(0, 12),),
        sweeps=tuple((a, b + 12, c, d + 12) for a, b, c, d in part.sweeps),
    )
    high = Marking("high", "blank", (Placed("art", 1, 0, 0, 12, (lifted,)),))
    sweeping = Sweeping({"low": low, "high": high}, SETTINGS, MACHINE)
    pockets = {
        k + 1: Pocket(k + 1, "blank", 20.0 * (k % 4), 40.0 * (k // 4), 0, Region.rectangle(1, 1), ())
        for k in range(8)
    }
    names = {"a": "low", "b": "high"}
    mixed = tuple((k + 1, Unit("ab"[k % 2], k // 2 + 1)) for k in range(8))
    load = AssignedLoad(0, 3.0, mixed)
    found = arrange_units(load, pockets, names, sweeping, Stop(effort=9))
    rows = [{unit.line for number, unit in found.units if (number > 4) == back} for back in (False, True)]
    assert sorted(map(sorted, rows)) == [["a"], ["b"]]
    assert sorted(unit.number for _, unit in found.units) == sorted(unit.number for _, unit in mixed)
    alike = AssignedLoad(0, 3.0, tuple((k, Unit("a", k)) for k in pockets))
    assert arrange_units(alike, pockets, names, sweeping, Stop(effort=9)) == alike


def test_grid_lines_meet() -> None:
    """Fills of areas far apart lie on one grid of lines, and an area between two lines has its own."""
    squares = [Contour.polyline([(0, y), (5, y), (5, y + 5), (0, y + 5)]) for y in (0.0, 20.123)]
    for square in squares:
        heights = [sweep[1] for sweep in on_grid(square, 0.5)]
        assert all(abs((y - 0.25) / 0.5 - round((y - 0.25) / 0.5)) < 1e-9 for y in heights)
        assert len(heights) == 10
    thin = Contour.polyline([(0, 0.3), (5, 0.3), (5, 0.6), (0, 0.6)])
    (sweep,) = on_grid(thin, 0.5)
    assert sweep == pytest.approx((0.0, 0.45, 5.0, 0.45))
