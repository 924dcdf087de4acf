"""CSV files, read back with the standard library's reader."""

import csv
import io
import re
from dataclasses import replace
from typing import Any

import pytest

from nesting.plan_values import Plan
from nesting.plug_in_options import with_options
from nesting_adapters.csv_run_sheet import CsvRunSheetWriter
from tests.adapters.written_plan import renamed_plan, small_plan


def _rows(name: str, plan: Plan | None = None) -> list[dict[str, str]]:
    text = CsvRunSheetWriter().files(plan or small_plan())[name].decode("utf-8")
    return list(csv.DictReader(io.StringIO(text, newline=""), strict=True))


def test_every_unit_has_its_row() -> None:
    """Load, pocket and unit of every filling come back, load by load in pocket order."""
    plan = small_plan()
    units = [
        (str(load.number), load.sheet, str(filling.pocket), filling.unit.line, str(filling.unit.number))
        for load in plan.loads
        for filling in load.fillings
    ]
    found = [(r["load"], r["sheet"], r["pocket"], r["order line"], r["unit"]) for r in _rows("run-sheet.csv")]
    assert found == units


def test_a_row_tells_how_the_unit_is_marked() -> None:
    """Blank, artwork, turn, focus height, setting and date are those of the plan."""
    row = _rows("run-sheet.csv")[2]
    assert (row["blank"], row["artwork"], row["turn (degrees)"]) == ("fob", "name", "30")
    assert (row["focus height (mm)"], row["setting"], row["power (%)"]) == ("4", "coarse", "")
    assert _rows("run-sheet.csv")[0]["due"] == "2026-12-01"


def test_quotes_and_line_breaks_survive() -> None:
    """A text with quotes, a comma and a line break is one cell (RFC 4180, rules 6 and 7)."""
    assert _rows("run-sheet.csv")[2]["texts"] == 'name: Grace, "H."; role: rear\nadmiral'


def test_the_files_follow_rfc_4180() -> None:
    """Lines end with CRLF, every record has as many fields, and the text is UTF-8 (rules 1, 2 and 4)."""
    for content in CsvRunSheetWriter().files(renamed_plan(" – 名")).values():
        text = content.decode("utf-8")
        outside_quotes = re.sub(r'"(?:[^"]|"")*"', "", text)
        assert text.endswith("\r\n")
        assert re.search(r"(?<!\r)\n|\r(?!\n)", outside_quotes) is None
        assert len({len(row) for row in csv.reader(io.StringIO(text, newline=""), strict=True)}) == 1


def test_every_sheet_is_on_the_cut_list() -> None:
    """The cut list gives stock, size, pockets, loads and kerf of each sheet."""
    row = _rows("sheets.csv")[0]
    assert (row["sheet"], row["stock"], row["pockets"], row["loads"], row["units"]) == (
        "A", "plywood 300 x 200", "4", "2", "7",
    )  # fmt: skip
    assert (row["width (mm)"], row["height (mm)"], row["kerf (mm)"]) == ("300", "200", "0.2")


def test_every_pocket_has_its_place() -> None:
    """Place, turn and box of each pocket are the plan's, to 1 µm."""
    rows = _rows("placements.csv")
    pockets = small_plan().sheets[0].pockets
    assert [row["pocket"] for row in rows] == ["1", "2", "3", "4"]
    for row, pocket in zip(rows, pockets, strict=True):
        place = [float(row[name]) for name in ("x (mm)", "y (mm)", "turn (degrees)")]
        assert place == pytest.approx([pocket.x, pocket.y, pocket.turn], abs=0.0005)
        box = [float(row[f"{name} (mm)"]) for name in ("left", "bottom", "width", "height")]
        x0, y0, x1, y1 = pocket.outline.bounds
        assert box == pytest.approx([x0, y0, x1 - x0, y1 - y0], abs=0.0005)


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_no_cell_is_a_formula(start: str) -> None:
    """A name that a spreadsheet would take for a formula is written as text; figures stay figures."""
    plan = small_plan()
    orders = tuple(replace(o, name=f"{start}cmd|calc!{k}") for k, o in enumerate(plan.job.orders))
    names = dict(zip((o.name for o in plan.job.orders), (o.name for o in orders), strict=True))
    loads = tuple(
        replace(load, fillings=tuple(
            replace(f, unit=replace(f.unit, line=names[f.unit.line])) for f in load.fillings
        ))
        for load in plan.loads
    )  # fmt: skip
    plan = replace(plan, job=replace(plan.job, orders=orders), loads=loads)
    for row in _rows("run-sheet.csv", plan):
        assert row["order line"].startswith(f"'{start}cmd")
        assert not any(cell[:1] in "=+@\t\r" for cell in row.values() if cell)


def test_tables_for_other_countries() -> None:
    """With semicolon, decimal comma and byte order mark the same values come back."""
    options: dict[str, Any] = {"separator": ";", "decimal": ",", "byte_order_mark": True}
    content = with_options(CsvRunSheetWriter(), options, "output.csv").files(small_plan())["sheets.csv"]
    assert content.startswith(b"\xef\xbb\xbf")
    row = next(csv.DictReader(io.StringIO(content.decode("utf-8-sig"), newline=""), delimiter=";"))
    assert (row["sheet"], row["kerf (mm)"]) == ("A", "0,2")
