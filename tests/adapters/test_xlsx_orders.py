"""Order lists in workbooks, made by openpyxl and by hand."""

import zipfile
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pytest

from nesting import _plugins
from nesting.errors import InputError
from nesting.job.load import job_from
from nesting.plug_in_options import with_options
from nesting_adapters import xlsx_orders
from nesting_adapters.xlsx_orders import XlsxOrderReader
from tests.job.test_load import small

openpyxl: Any = pytest.importorskip("openpyxl", reason="the extra xlsx is not installed")


def _book(path: Path, *rows: list[Any], title: str = "Orders") -> Path:
    book = openpyxl.Workbook()
    book.active.title = title
    for row in rows:
        book.active.append(row)
    book.save(path)
    return path


def _read(path: Path, **options: Any) -> list[tuple[int, dict[str, str]]]:
    reader = with_options(XlsxOrderReader(), options, "order_list.reading")
    return [(row.number, dict(row.cells)) for row in reader.read(path)]


def _refused(path: Path, **options: Any) -> dict[str, str]:
    with pytest.raises(InputError) as caught:
        _read(path, **options)
    assert {problem.file for problem in caught.value.problems} <= {str(path)}
    return {problem.where: problem.message for problem in caught.value.problems}


def test_the_reader_is_found_by_its_suffix() -> None:
    """The entry point leads to this reader."""
    assert isinstance(_plugins.load_for_suffix("order_readers", ".xlsx"), XlsxOrderReader)


def test_numbers_dates_and_gaps_are_read_as_stored(tmp_path: Path) -> None:
    """Whole numbers have no fraction, dates are ISO 8601, missing cells and rows are empty."""
    path = _book(
        tmp_path / "list.xlsx",
        ["Blank", " Quantity ", "Due", "Name"],
        ["plate", 3, date(2026, 5, 30), "Ada"],
        [],
        ["plate", 2.5, datetime(2026, 5, 30, 14, 30), None],
        ["plate", True],
    )
    assert _read(path) == [
        (2, {"blank": "plate", "quantity": "3", "due": "2026-05-30", "name": "Ada"}),
        (4, {"blank": "plate", "quantity": "2.5", "due": "2026-05-30 14:30:00", "name": ""}),
        (5, {"blank": "plate", "quantity": "true", "due": "", "name": ""}),
    ]


def test_a_worksheet_is_chosen_by_its_name(tmp_path: Path) -> None:
    """The first one is read unless another is named; an unknown one is refused with what there is."""
    path = _book(tmp_path / "list.xlsx", ["a"], ["first"])
    book = openpyxl.load_workbook(path)
    more = book.create_sheet("May")
    more.append(["a"])
    more.append(["second"])
    book.save(path)
    assert _read(path) == [(2, {"a": "first"})]
    assert _read(path, worksheet="May") == [(2, {"a": "second"})]
    assert "did you mean 'May'?" in _refused(path, worksheet="may")[""]


def test_a_formula_without_its_value_is_refused_at_its_cell(tmp_path: Path) -> None:
    """A workbook never calculated holds formulas without values: an error, not an empty cell."""
    path = _book(tmp_path / "list.xlsx", ["a", "b"], ["x", "=1+1"])
    assert "found a formula without its value" in _refused(path)["row 2, column 2"]


def test_too_many_cells_are_refused(tmp_path: Path) -> None:
    """A row longer than the header is an error at its row."""
    assert "found 3 cells" in _refused(_book(tmp_path / "list.xlsx", ["a", "b"], ["x", "y", "z"]))["row 2"]


def test_an_empty_workbook_is_refused(tmp_path: Path) -> None:
    """Without a row of column names there is nothing to read."""
    assert "column names" in _refused(_book(tmp_path / "list.xlsx"))["row 1"]


@pytest.mark.parametrize("content", [b"", b"PK\x03\x04 broken", b"blank,quantity\r\nplate,3\r\n"])
def test_what_is_no_workbook_is_refused(tmp_path: Path, content: bytes) -> None:
    """Damaged files and files of another kind are an error that names the file."""
    path = tmp_path / "list.xlsx"
    path.write_bytes(content)
    assert "not a workbook" in _refused(path)[""]


def test_a_workbook_that_unpacks_without_end_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A small file whose parts are huge is refused before it is unpacked."""
    monkeypatch.setattr(xlsx_orders, "MOST_BYTES", 1_000_000)
    path = tmp_path / "list.xlsx"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as parts:
        parts.writestr("xl/worksheets/sheet1.xml", b" " * 1_000_001)
    assert "unpacked it is larger" in _refused(path)[""]


def test_entities_of_xml_are_refused(tmp_path: Path) -> None:
    """A worksheet that declares entities, with which files blow up or are drawn in, is refused."""
    path = _book(tmp_path / "list.xlsx", ["a"], ["x"])
    hostile = tmp_path / "hostile.xlsx"
    with zipfile.ZipFile(path) as source, zipfile.ZipFile(hostile, "w") as target:
        for part in source.namelist():
            content = source.read(part)
            if part == "xl/workbook.xml":
                body = content.split(b"?>", 1)[-1]
                content = b'<?xml version="1.0"?><!DOCTYPE w [<!ENTITY e "ha">]>' + body
            target.writestr(part, content)
    assert "not a workbook" in _refused(hostile)[""]


def test_a_job_reads_its_orders_from_a_workbook(tmp_path: Path) -> None:
    """Mapped columns, worksheet and further columns reach the order lines; errors name row and column."""
    path = _book(tmp_path / "list.xlsx", ["Artikel", "Menge", "Name"], ["plate", 3, "Ada"], title="Mai")
    order_list = {
        "file": "list.xlsx",
        "columns": {"blank": "Artikel", "quantity": "Menge"},
        "reading": {"worksheet": "Mai"},
    }
    order = job_from(small(orders=None, order_list=order_list), tmp_path).orders[0]
    assert (order.name, order.blank, order.quantity, order.texts) == ("row 2", "plate", 3, {"name": "Ada"})
    _book(path, ["Artikel", "Menge"], ["plate", 2.5], title="Mai")
    with pytest.raises(InputError, match=r"list\.xlsx: row 2, column menge: found '2\.5'"):
        job_from(small(orders=None, order_list=order_list), tmp_path)


def test_a_missing_library_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without the extra the job is refused with what to install."""
    from nesting import plug_in_options

    _book(tmp_path / "list.xlsx", ["blank", "quantity"], ["plate", 3])
    monkeypatch.setattr(plug_in_options, "find_spec", lambda _: None)
    with pytest.raises(
        InputError, match=r"order_list\.file: .*needs openpyxl; install nesting-optimiser\[xlsx\]"
    ):
        job_from(small(orders=None, order_list={"file": "list.xlsx"}), tmp_path)
