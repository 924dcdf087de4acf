"""Tables as CSV (RFC 4180, UTF-8) that a spreadsheet opens without running anything in them."""

import csv
import io
from collections.abc import Iterable, Sequence
from typing import Annotated, Literal

from pydantic import Field, Strict

from nesting.plug_in_options import WithOptions

Cell = str | float | None

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
"""A spreadsheet takes a cell that begins so for a formula (OWASP, page "CSV Injection")."""


class CsvOptions(WithOptions):
    """How tables are written, for spreadsheets of other countries."""

    separator: Literal[",", ";", "\t"] = Field(
        ",", description="character between cells: comma, semicolon or tab"
    )
    decimal: Literal[".", ","] = Field(".", description="decimal sign of figures")
    byte_order_mark: Annotated[bool, Strict()] = Field(
        default=False, description="whether the file begins with the mark by which some programs know UTF-8"
    )

    def table(self, heading: Sequence[str], rows: Iterable[Sequence[Cell]]) -> bytes:
        r"""Write a table: numbers to 1 µm, texts made safe, None as an empty cell.

        >>> CsvOptions(separator=";", decimal=",").table(["a", "b"], [["=1+1", 2.5]])
        b"a;b\r\n'=1+1;2,5\r\n"
        """
        text = io.StringIO(newline="")
        # the csv module's own dialect is that of RFC 4180: CRLF, quotes where needed, quotes doubled
        writer = csv.writer(text, delimiter=self.separator)
        writer.writerow(heading)
        writer.writerows([self._written(cell) for cell in row] for row in rows)
        return text.getvalue().encode("utf-8-sig" if self.byte_order_mark else "utf-8")

    def _written(self, cell: Cell) -> str:
        if cell is None:
            return ""
        if isinstance(cell, str):
            return f"'{cell}" if cell.startswith(FORMULA_STARTS) else cell
        figure = f"{cell:.3f}".rstrip("0").rstrip(".")
        return ("0" if figure == "-0" else figure).replace(".", self.decimal)
