"""The suites of irregular pieces and circles, on generated instances."""

import sys
from pathlib import Path
from xml.etree import ElementTree

import pytest

from benchmarks import circles, irregular_bins, irregular_strip
from benchmarks.__main__ import main
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


def test_circles_have_the_stated_share_of_the_radius() -> None:
    """Four circles in the unit square have radius 1/4 at best, known by hand."""
    four = next(i for i in circles.instances(Settings(None, 1.0)) if i.name == "N 04")
    x0, _, x1, _ = four.items[0].footprint.bounds
    assert (x1 - x0) / 2 == pytest.approx(0.985 * 250)
