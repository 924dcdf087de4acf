"""Order lists as comma-separated values (RFC 4180), in UTF-8, the first row naming the columns."""

import csv
import io
from collections.abc import Iterator
from pathlib import Path

from nesting.errors import InputError, Problem
from nesting.job.syntax import read_text
from nesting.ports import OrderRow

LONGEST_CELL = 10_000
"""No cell of an order list holds more characters."""


class CsvOrderReader:
    """Reads order lists in CSV.

    RFC 4180 is kept to: quoted cells may hold commas, line ends and doubled quotes, and every row
    has as many cells as the first (section 2, rules 4 to 7). The header, optional there, is needed
    here. Rows without any text, which spreadsheets leave behind, are passed over. LF is taken for
    CRLF, and a quote within a cell that does not begin with one for itself.
    """

    suffixes = (".csv",)

    def read(self, path: Path) -> list[OrderRow]:
        """Read every row, cells as text, column names lower case; row 1 is the header.

        Raises
        ------
        nesting.errors.InputError
            With every row that is wrong.
        """
        text = read_text(path)
        if not text.strip():
            raise InputError.single("the file is empty; needed: a row of column names", file=str(path))
        problems: list[Problem] = []
        rows = list(_rows(text, str(path), problems))
        columns = _columns(rows[0][1], str(path), problems) if rows and rows[0][0] == 1 else []
        if not columns and not problems:
            problems.append(Problem(str(path), "row 1", "found an empty row; needed: the column names"))
        body = [row for row in rows[1:] if any(cell.strip() for cell in row[1])]
        problems += [p for number, cells in body for p in _wrong(number, cells, columns, str(path))]
        if problems:
            raise InputError(problems)
        return [OrderRow(number, dict(zip(columns, cells, strict=True))) for number, cells in body]


def _rows(text: str, file: str, problems: list[Problem]) -> Iterator[tuple[int, list[str]]]:
    """Split the text; what comes after a row whose quotes are wrong cannot be told apart, so reading ends."""
    rows = csv.reader(io.StringIO(text, newline=""), strict=True)
    number = 0
    while True:
        number += 1
        try:
            cells = next(rows)
        except StopIteration:
            return
        except csv.Error as error:
            message = f"{_reason(error)} (line {rows.line_num} of the file); the rows after it were not read"
            problems.append(Problem(file, f"row {number}", message))
            return
        if cells:
            yield number, cells


def _reason(error: csv.Error) -> str:
    if "field larger" in str(error):
        return "found a cell that never ends; allowed: quotes in pairs"
    if "expected after" in str(error):
        return "found text after a closing quote; allowed: a comma, or a doubled quote inside a cell"
    if "unexpected end" in str(error):
        return "found a quote that is never closed"
    return f"found text that is not CSV ({error})"


def _columns(cells: list[str], file: str, problems: list[Problem]) -> list[str]:
    """Check the header; an empty list if it cannot be used."""
    names = [cell.strip().casefold() for cell in cells]
    if len(names) == 1 and any(mark in names[0] for mark in ";\t|"):
        message = f"found one column, {names[0]!r}; needed: commas between the columns"
        problems.append(Problem(file, "row 1", message))
    for k, name in enumerate(names):
        where = f"row 1, column {k + 1}"
        if not name:
            problems.append(Problem(file, where, "found no name; needed: a name for every column"))
        elif name in names[:k]:
            problems.append(Problem(file, where, f"found {name!r} a second time; a name is given once"))
    return names


def _wrong(number: int, cells: list[str], columns: list[str], file: str) -> Iterator[Problem]:
    if len(cells) != len(columns):
        message = f"found {len(cells)} cells; needed: {len(columns)}, as many as there are column names"
        yield Problem(file, f"row {number}", message)
        return
    for name, cell in zip(columns, cells, strict=True):
        if "\0" in cell:
            yield Problem(file, f"row {number}, column {name}", "found a NUL character, which is no text")
        if len(cell) > LONGEST_CELL:
            message = f"found a cell of {len(cell)} characters; allowed: at most {LONGEST_CELL}"
            yield Problem(file, f"row {number}, column {name}", message)
