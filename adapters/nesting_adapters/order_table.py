"""From the rows of a table, whatever file they stood in, to the rows of an order list."""

from collections.abc import Iterator, Sequence

from nesting.errors import InputError, Problem
from nesting.ports import OrderRow

LONGEST_CELL = 10_000
"""No cell of an order list holds more characters."""

Row = tuple[int, list[str]]
"""Its number as the user counts them, from 1, and its cells."""


def order_rows(rows: Sequence[Row], file: str, problems: list[Problem]) -> list[OrderRow]:
    """Take the first row as the column names and the others as order lines; empty rows are passed over.

    Parameters
    ----------
    rows
        In the file's order; rows without any cell may be left out.
    file
        Its name, for errors.
    problems
        What was found wrong before.

    Raises
    ------
    nesting.errors.InputError
        With those problems and every row that is wrong.
    """
    columns = _columns(rows[0][1], file, problems) if rows and rows[0][0] == 1 else []
    if not columns and not problems:
        problems.append(Problem(file, "row 1", "found an empty row; needed: the column names"))
    body = [row for row in rows[1:] if any(cell.strip() for cell in row[1])]
    problems += [p for number, cells in body for p in _wrong(number, cells, columns, file)]
    if problems:
        raise InputError(problems)
    return [OrderRow(number, dict(zip(columns, cells, strict=True))) for number, cells in body]


def _columns(cells: list[str], file: str, problems: list[Problem]) -> list[str]:
    names = [cell.strip().casefold() for cell in cells]
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
