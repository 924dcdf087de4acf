"""The benchmarks run on generated instances, and say what they measured."""

import csv
import sys
from pathlib import Path

import pytest

from benchmarks import rect_bins, rect_strip
from benchmarks.__main__ import main, suites
from benchmarks.suite import Settings


def test_suites_are_found() -> None:
    """Every module with a suite of its own is offered under that suite's name."""
    assert {"rect-bins", "rect-strip", "equal-rects"} <= set(suites())


def test_generated_bins_keep_to_their_classes() -> None:
    """Generated rectangles fit their sheet, and the same seed draws the same ones."""
    made = rect_bins.instances(Settings(None, 1.0))
    assert len(made) == 50
    assert all(w <= i.stock[0] and h <= (i.stock[1] or 0) for i in made for w, h in i.sizes)
    assert made == rect_bins.instances(Settings(None, 1.0))
    assert made != rect_bins.instances(Settings(None, 1.0, seed=2))


def test_generated_strips_waste_nothing() -> None:
    """The rectangles of a generated strip cover it exactly up to its optimum."""
    for instance in rect_strip.instances(Settings(None, 1.0)):
        area = sum(w * h for w, h in instance.sizes)
        assert area == instance.stock[0] * (instance.reference or 0)


def test_a_suite_writes_table_figures_and_plot(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A run prints a table and totals, and writes one row an instance and a plot."""
    arguments = ["equal-rects", "--seconds", "1", "--only", "9 x", "--out", str(tmp_path), "--plot", "svg"]
    monkeypatch.setattr(sys, "argv", ["benchmarks", *arguments])
    main()
    printed = capsys.readouterr().out
    rows = list(csv.DictReader((tmp_path / "equal-rects.csv").read_text(encoding="utf-8").splitlines()))
    assert rows
    assert all(row["sound"] == "True" for row in rows)
    assert f"of {len(rows)}" in printed.splitlines()[-1]
    assert "<svg" in (tmp_path / "equal-rects.svg").read_text(encoding="utf-8")
