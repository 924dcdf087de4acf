"""The suites of irregular pieces and circles, on generated instances."""

import math
import sys
from concurrent.futures import Executor
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest

import nesting
from benchmarks import circles, irregular_bins, irregular_strip, mixed_orders
from benchmarks.__main__ import main
from benchmarks.blanks import blanks
from benchmarks.first_layout import PIECES, first_layout, mixed_pieces
from benchmarks.irregular import solve
from benchmarks.suite import Settings


def test_cut_up_pieces_waste_nothing() -> None:
    """The pieces of a generated instance have the area of the sheets they were cut from."""
    for instance in irregular_bins.instances(Settings(None, 1.0)):
        area = sum(item.footprint.area * item.quantity for item in instance.items)
        assert area == pytest.approx((instance.reference or 0) * 1000 * 1000)
    for instance in irregular_strip.instances(Settings(None, 1.0)):
        assert sum(item.footprint.area for item in instance.items) == pytest.approx(100 * 150)


def test_a_run_draws_every_sheet_and_piece(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The picture beside the table has one outline for the sheet and one for each disc."""
    arguments = ["circles", "--seconds", "5", "--only", "N 09", "--out", str(tmp_path)]
    monkeypatch.setattr(sys, "argv", ["benchmarks", *arguments])
    main()
    assert "1 of 1" in capsys.readouterr().out.splitlines()[-1]
    picture = ElementTree.fromstring((tmp_path / "N 09.svg").read_text(encoding="utf-8"))
    assert len(picture) == 1 + 9


def test_circles_have_a_stated_share_of_the_radius() -> None:
    """Four circles in the unit square have radius 1/4 at best, known by hand."""
    four = next(i for i in circles.instances(Settings(None, 1.0)) if i.name == "N 04")
    x0, _, x1, _ = four.pieces(0.9).items[0].footprint.bounds
    assert (x1 - x0) / 2 == pytest.approx(0.9 * 250)


def test_the_largest_share_of_the_radius_is_reported() -> None:
    """Four circles, whose best radius is known, reach more than the usual share of it, and no more."""
    four = next(i for i in circles.instances(Settings(None, 1.0)) if i.name == "N 04")
    outcome = circles.SUITE.solve(four, Settings(None, 2.0))
    assert circles.SHARE < outcome.value <= 1
    assert outcome.sound
    assert outcome.bound == pytest.approx(2 / math.sqrt(math.pi))


def test_blanks_are_of_twelve_kinds_and_four_trades() -> None:
    """Cups, coasters, pens and fobs all differ, and most are no rectangles."""
    found = blanks()
    assert len(set(found.values())) == 12
    assert {name.split(",")[0].split()[0] for name in found} == {"cup", "coaster", "pen", "fob"}
    assert not any(footprint.is_rectangle for footprint in found.values())


def test_boxed_orders_have_the_bounding_boxes_of_the_same_blanks() -> None:
    """Beside an order stands the same number of rectangles of the same extent, gaps and turns."""
    order = mixed_orders.mixed_order(1)
    boxes = mixed_orders.boxed(order)
    for blank, box in zip(order.items, boxes.items, strict=True):
        x0, y0, x1, y1 = blank.footprint.bounds
        assert box.footprint.bounds == pytest.approx((0, 0, x1 - x0, y1 - y0))
        assert (box.quantity, box.turns, box.gap) == (blank.quantity, blank.turns, blank.gap)


def test_the_first_layout_holds_all_of_two_hundred_pieces() -> None:
    """The first layout that is told already places every piece of the twelve kinds."""
    items = mixed_pieces(1)
    layout = first_layout(items)
    assert len(items) == 12
    assert len(layout.placements) == PIECES


def test_two_processes_search_for_one_instance(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two processes are this one and a worker, one process has no worker, and both layouts are sound."""
    workers: list[Executor | None] = []
    pack = nesting.pack

    def noting(*problem: Any, executor: Executor | None, **limits: Any) -> nesting.Layout:
        workers.append(executor)
        return pack(*problem, executor=executor, **limits)

    monkeypatch.setattr(nesting, "pack", noting)
    instance = irregular_strip.instances(Settings(None, 1.0))[0]
    assert all(solve(instance, Settings(None, 0.5, processes=count)).sound for count in (1, 2))
    assert workers[0] is None
    assert getattr(workers[1], "_max_workers", None) == 1


@pytest.mark.slow
@pytest.mark.parametrize("number", range(1, 1 + mixed_orders.ORDERS))
def test_outlines_need_no_more_sheets_than_bounding_boxes(number: int) -> None:
    """With little effort already, no order needs more sheets than its bounding boxes with a share of it."""
    order = mixed_orders.mixed_order(number)
    boxes = mixed_orders.boxed(order)
    ours = nesting.pack(order.items, order.sheet, effort=3.0)
    theirs = nesting.pack(boxes.items, boxes.sheet, effort=3.0 / 30)
    assert not ours.unplaced
    assert nesting.check_layout(ours).ok
    assert len(ours.sheets) <= len(theirs.sheets)
