"""The check of cut paths against the rules that only some machines ask for."""

from itertools import pairwise

import pytest

from nesting.check.cuts import check_cut_path
from nesting.check.report import Findings
from nesting.geometry.region import Region
from nesting.job.job import Machine, Stock
from nesting.plan_values import CutSheet, Path, Pocket, Step

STOCK = Stock("board", 300, 300, 3, "plywood")


def square(number: int, x: float, y: float) -> Pocket:
    """Make a pocket of 30 mm with its lower left corner at a point."""
    region = Region.rectangle(30, 30).moved(x, y)
    return Pocket(number, "square", x, y, 0, region, region.contours)


def complaints(pockets: tuple[Pocket, ...], order: tuple[int, ...], machine: Machine) -> list[str]:
    """Say what the check has against cutting pockets in an order, each from its first vertex."""
    corners = {pocket.number: complex(*pocket.path[0].vertices[0][:2]) for pocket in pockets}

    def travel(numbers: tuple[int, ...]) -> float:
        stops = [0j, *(corners[number] for number in numbers)]
        return sum(abs(b - a) for a, b in pairwise(stops))

    beam = 120.0 * len(pockets)
    path = Path(tuple(Step(k, 0) for k in order), travel(order), travel(tuple(sorted(order))), beam, 1, 1)
    findings = Findings()
    check_cut_path(CutSheet("A", "board", pockets, path, 0), STOCK, machine, 0j, findings)
    return [violation.message for violation in findings.report().violations]


@pytest.mark.parametrize(("order", "late"), [((3, 4, 1, 2), 0), ((3, 1, 4, 2), 1), ((1, 2, 3, 4), 2)])
def test_thin_webs_come_last(order: tuple[int, ...], late: int) -> None:
    """Each pocket cut after one of two that leave a thin web between them is named; without the rule none."""
    pockets = (square(1, 20, 20), square(2, 51, 20), square(3, 120, 20), square(4, 120, 120))
    found = complaints(pockets, order, Machine(600, 400, thin_web=2.0))
    assert found == ["cut after a web of less than 2 mm; cut it before"] * late
    assert complaints(pockets, order, Machine(600, 400)) == []


@pytest.mark.parametrize(("order", "soon"), [((1, 3, 2), 0), ((1, 2, 3), 1)])
def test_neighbours_are_left_to_cool(order: tuple[int, ...], soon: int) -> None:
    """A neighbour cut at once is named; one cut after something far away, which takes its 8 s, is not."""
    pockets = (square(1, 20, 20), square(2, 55, 20), square(3, 200, 200))
    found = complaints(pockets, order, Machine(600, 400, heat_distance=10.0, heat_time=6.0))
    assert found == ["cut too soon after pocket 1; wait 6 s"] * soon


def test_a_lead_in_stays_in_the_waste() -> None:
    """A lead-in from inside a pocket is sound, one from outside is named."""
    pocket = square(1, 20, 20)
    for lead, sound in (((22.0, 22.0), True), ((18.0, 18.0), False)):
        hop, into = abs(complex(*lead)), abs(complex(20, 20) - complex(*lead))
        numbered = abs(complex(20, 20))
        path = Path((Step(1, 0, lead=lead),), hop, numbered, 120 + into, 1, 1)
        findings = Findings()
        check_cut_path(CutSheet("A", "board", (pocket,), path, 0), STOCK, Machine(600, 400), 0j, findings)
        assert (findings.report().violations == ()) == sound
