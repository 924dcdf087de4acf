"""Order lists in workbooks of Office Open XML (ISO/IEC 29500), the first row naming the columns."""

import zipfile
from collections.abc import Iterator, Sequence
from datetime import date, datetime, time
from itertools import islice
from pathlib import Path
from typing import Annotated, Any, ClassVar

from pydantic import Field, Strict

from nesting.errors import InputError, Problem
from nesting.job.findings import nearest
from nesting.plug_in_options import WithOptions
from nesting.ports import OrderRow
from nesting_adapters.order_table import Row, order_rows

MOST_BYTES = 200_000_000
"""A workbook is never larger, unpacked."""

MOST_ROWS = 100_001
MOST_COLUMNS = 500


class XlsxOrderReader(WithOptions):
    """Reads order lists from a worksheet: numbers and dates as they are stored, formulas by their values."""

    suffixes: ClassVar[tuple[str, ...]] = (".xlsx",)
    requires: ClassVar[dict[str, str]] = {"openpyxl": "nesting-optimiser[xlsx]"}

    worksheet: Annotated[str, Strict(), Field(min_length=1, max_length=100)] | None = Field(
        None, description="name of the worksheet; left out: the first one"
    )

    def read(self, path: Path) -> list[OrderRow]:
        """Read every row, cells as text, column names lower case; row 1 is the header.

        Raises
        ------
        nesting.errors.InputError
            With every cell that is wrong, or if the file is no workbook or has no such worksheet.
        """
        problems: list[Problem] = []
        try:
            _refuse_large(path)
            values, formulas = (self._cells(path, stored) for stored in (True, False))
            pairs = islice(zip(values, formulas, strict=False), MOST_ROWS + 1)
            rows = [
                _row(number, *pair, str(path), problems) for number, pair in enumerate(pairs, 1) if any(pair)
            ]
        except InputError:
            raise
        except Exception as error:  # noqa: BLE001 -- a damaged workbook raises whatever it comes upon
            message = f"this is not a workbook that can be read: {type(error).__name__}: {error}"
            raise InputError.single(message, file=str(path)) from None
        if len(rows) > MOST_ROWS:
            problems.append(Problem(str(path), f"row {MOST_ROWS + 1}", f"allowed: {MOST_ROWS} rows at most"))
        width = len(rows[0][1]) if rows else 0
        return order_rows([_as_wide(row, width) for row in rows], str(path), problems)

    def _cells(self, path: Path, stored: bool) -> Iterator[tuple[Any, ...]]:
        """Yield the cells of each row, as stored values or as formulas."""
        import openpyxl

        book = openpyxl.load_workbook(path, read_only=True, data_only=stored, keep_links=False)
        try:
            names = book.sheetnames
            name = self.worksheet or names[0]
            if name not in names:
                message = f"found no worksheet {name!r}{nearest(name, names)}"
                raise InputError.single(message, file=str(path))
            sheet = book[name]
            sheet.reset_dimensions()
            yield from sheet.iter_rows(max_col=MOST_COLUMNS, values_only=True)
        finally:
            book.close()


def _refuse_large(path: Path) -> None:
    with zipfile.ZipFile(path) as parts:
        if sum(part.file_size for part in parts.infolist()) > MOST_BYTES:
            message = f"unpacked it is larger than {MOST_BYTES // 1_000_000} MB, the most that is read"
            raise InputError.single(message, file=str(path))


def _row(
    number: int, values: Sequence[Any], formulas: Sequence[Any], file: str, problems: list[Problem]
) -> Row:
    for k, (value, formula) in enumerate(zip(values, formulas, strict=False), 1):
        where = f"row {number}, column {k}"
        if value is None and isinstance(formula, str) and formula.startswith("="):
            message = "found a formula without its value; open the file in a spreadsheet program and save it"
            problems.append(Problem(file, where, message))
        elif isinstance(value, str) and value.startswith("#") and str(formula).startswith("="):
            problems.append(Problem(file, where, f"found {value}, a formula that failed"))
    cells = [_text(value) for value in values]
    while cells and not cells[-1]:
        cells.pop()
    return number, cells


def _as_wide(row: Row, width: int) -> Row:
    """Fill a row up with the empty cells that a workbook does not store."""
    number, cells = row
    return number, cells + [""] * (width - len(cells))


def _text(value: Any) -> str:
    """Write a cell as a user sees it, dates by ISO 8601.

    >>> _text(12.0), _text(2.5), _text(datetime(2026, 5, 30)), _text(None), _text(True)
    ('12', '2.5', '2026-05-30', '', 'true')
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, datetime):
        return value.date().isoformat() if value.time() == time() else value.isoformat(sep=" ")
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return str(int(value))
    if isinstance(value, date):
        return value.isoformat()
    return "" if value is None else str(value)
