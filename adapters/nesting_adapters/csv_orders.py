"""Order lists as comma-separated values (RFC 4180), the first row naming the columns."""

import codecs
import csv
import io
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, ClassVar, Literal

from pydantic import AfterValidator, Field, Strict

from nesting.errors import InputError, Problem
from nesting.job.fields import refusal
from nesting.job.syntax import read_text
from nesting.plug_in_options import WithOptions
from nesting.ports import OrderRow
from nesting_adapters.order_table import Row, order_rows

Separator = Literal[",", ";", "\t", "|"]
SEPARATORS: tuple[Separator, ...] = (",", ";", "\t", "|")


def _text_encoding(name: str) -> str:
    try:
        if "".encode(name) is not None and codecs.lookup(name).name not in ("idna", "punycode"):
            return name
    except (LookupError, ValueError):
        pass
    raise refusal(name, "the name of a text encoding, such as utf-8, cp1252, iso8859-15 or mac_roman")


class CsvOrderReader(WithOptions):
    """Reads order lists in CSV.

    RFC 4180 is kept to: quoted cells may hold commas, line ends and doubled quotes, and every row
    has as many cells as the first (section 2, rules 4 to 7). The header, optional there, is needed
    here. Rows without any text, which spreadsheets leave behind, are passed over. LF is taken for
    CRLF, and a quote within a cell that does not begin with one for itself. Semicolons, tabs and bars
    stand for commas where the header has them; a byte order mark tells UTF-8 and UTF-16.
    """

    suffixes: ClassVar[tuple[str, ...]] = (".csv",)

    encoding: Annotated[str, Strict(), AfterValidator(_text_encoding)] = Field(
        "utf-8", description="encoding of the file, such as utf-8 or cp1252"
    )
    separator: Separator | None = Field(
        None, description="character between cells; left out: the one that the header has most often"
    )

    def read(self, path: Path) -> list[OrderRow]:
        """Read every row, cells as text, column names lower case; row 1 is the header.

        Raises
        ------
        nesting.errors.InputError
            With every row that is wrong.
        """
        text = read_text(path, self.encoding, advice="save the file as UTF-8, or state its encoding")
        if not text.strip():
            raise InputError.single("the file is empty; needed: a row of column names", file=str(path))
        problems: list[Problem] = []
        rows = list(_rows(text, self.separator or _separator(text), str(path), problems))
        return order_rows(rows, str(path), problems)


def _separator(text: str) -> Separator:
    """Find the separator that the first line has most often, outside quotes; a comma if there is none.

    >>> _separator('"a;b";c|d|e')
    '|'
    """
    first = next((line for line in text.splitlines() if line.strip()), "")
    outside = "".join(first.split('"')[::2])
    return max(SEPARATORS, key=outside.count)


def _rows(text: str, separator: Separator, file: str, problems: list[Problem]) -> Iterator[Row]:
    """Split the text; what comes after a row whose quotes are wrong cannot be told apart, so reading ends."""
    rows = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
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
        return "found text after a closing quote; allowed: a separator, or a doubled quote inside a cell"
    if "unexpected end" in str(error):
        return "found a quote that is never closed"
    return f"found text that is not CSV ({error})"
