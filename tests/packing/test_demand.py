"""From a job to items and sheets."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.geometry.region import Region
from nesting.job.job import Blank, Job, Machine, MarkSetting, OrderLine, Stock
from nesting.packing.demand import items_of, sheets_of, solid_footprint


def blank(name: str, footprint: Region, clearance: float = 0.2, gap: float = 0.0) -> Blank:
    return Blank(name, footprint, 5.0, gap, clearance, (0.0,), footprint, "setting")


def job(blanks: list[Blank], orders: list[tuple[str, int]], stock: Stock, web: float = 3.0) -> Job:
    lines = tuple(OrderLine(f"line {k}", name, count) for k, (name, count) in enumerate(orders))
    return Job(
        "job", Machine(900, 600), (MarkSetting("setting"),), (stock,), tuple(blanks), (), lines, web=web
    )


PLAIN = Stock("plain", 600, 400, 6, "plywood", margin=2)


def test_order_lines_of_one_blank_are_one_item() -> None:
    """Quantities of lines add up; a blank nobody ordered is left out."""
    kinds = [blank("fob", Region.rectangle(30, 60)), blank("cup", Region.rectangle(90, 200))]
    found = items_of(job(kinds, [("fob", 3), ("fob", 4)], PLAIN))
    assert [(item.name, item.quantity) for item in found] == [("fob", 7)]


@given(st.floats(0, 2), st.floats(0, 2), st.floats(0, 10), st.floats(0, 10), st.floats(0, 10))
def test_gaps_leave_the_web(c1: float, c2: float, g1: float, g2: float, web: float) -> None:
    """Two blanks at the larger of their items' gaps keep both gaps and leave the web between pockets."""
    disc = Region.circle(20)
    kinds = [blank("a", disc, c1, g1), blank("b", disc, c2, g2)]
    first, second = items_of(job(kinds, [("a", 1), ("b", 1)], PLAIN, web))
    apart = max(first.gap, second.gap)
    assert apart >= max(g1, g2)
    assert apart - c1 - c2 >= web - 1e-9


def test_margin_and_keep_outs_leave_room_for_the_pockets() -> None:
    """The margin holds the web outside the largest pocket; keep-outs grow by the largest clearance."""
    screw = Region.circle(10).moved(50, 50)
    clamp = Region.rectangle(20, 30)
    stock = Stock("plain", 600, 400, 6, "plywood", quantity=2, margin=2, keep_outs=(screw, clamp), cost=4)
    kinds = [blank("a", Region.circle(20), 0.2), blank("b", Region.circle(20), 0.5)]
    (sheet,) = sheets_of(job(kinds, [("a", 1), ("b", 1)], stock))
    assert (sheet.name, sheet.quantity, sheet.cost, sheet.margin) == ("plain", 2, 4, 3.5)
    assert sheet.keep_outs[0].is_circle
    assert sheet.keep_outs[0].bounds == pytest.approx((44.5, 44.5, 55.5, 55.5))
    assert sheet.keep_outs[1].is_rectangle
    assert sheet.keep_outs[1].bounds == (-0.5, -0.5, 20.5, 30.5)


def test_nothing_is_placed_where_the_pocket_cuts_loose() -> None:
    """Holes and what a narrow mouth encloses are filled, a wide mouth stays open."""
    ring = Region(Region.circle(60).outer, (Region.circle(30).outer,))
    assert solid_footprint(ring, 0.5) == Region.circle(60)

    def box(mouth: float) -> Region:
        low, high = 20 - mouth / 2, 20 + mouth / 2
        return Region.polygon(
            [(0, 0), (40, 0), (40, low), (30, low), (30, 10), (10, 10), (10, 30), (30, 30), (30, high),
             (40, high), (40, 40), (0, 40)]
        )  # fmt: skip

    assert solid_footprint(box(8), 0.5).area == pytest.approx(1600 - 400 - 80)
    closed = solid_footprint(box(0.6), 0.5)
    assert not closed.holes
    assert closed.area == pytest.approx(1600, abs=0.6 * math.pi)
