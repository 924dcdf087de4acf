"""Order lines, from the document and from an order list, and the artwork that they name."""

import math
import re
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from pydantic import ValidationError

from nesting.job.document import ColumnsDocument, OrderDocument, OrderListDocument
from nesting.job.findings import Findings, key_path, nearest
from nesting.job.folder import JobFolder
from nesting.job.job import Artwork, OrderLine
from nesting.job.wording import worded
from nesting.ports import OrderRow, Tracing


@dataclass(frozen=True)
class Entry:
    """One order as written, the name it gets if it has none, and where each of its keys stands."""

    written: OrderDocument
    name: str
    file: str
    where: Callable[[str], str]
    source: str

    def artworks(self, known: Collection[str]) -> tuple[str, ...]:
        """Names of the artworks it asks for; a name may hold a plus sign itself."""
        written = self.written.artwork
        if written is None:
            return ()
        return (written,) if written in known else tuple(filter(None, map(str.strip, written.split(" + "))))

    def text(self, column: str) -> str:
        """Give what it holds in a column without a meaning of its own; empty if there is none."""
        return next((text for key, text in self.written.texts.items() if key.casefold() == column), "")


def document_entries(orders: Mapping[int, OrderDocument], file: str) -> list[Entry]:
    """List the orders of the document."""
    return [
        Entry(
            order,
            f"order {k + 1}",
            file,
            lambda key, k=k: _written_at(orders[k], k, key),  # type: ignore[misc]
            key_path("orders", k),
        )
        for k, order in orders.items()
    ]


def list_entries(written: OrderListDocument, folder: JobFolder) -> list[Entry]:
    """Read the order list; rows that are wrong are noted and left out."""
    rows = folder.order_rows(written.file, "order_list.file", written.reading, "order_list.reading")
    file = folder.name_of(written.file)
    columns = {key: name.casefold() for key, name in written.columns}
    if rows == []:
        folder.findings.add("", "found no order line under the column names; needed: one or more", file)
    if not rows or not _columns_there(written.columns, rows[0], folder.findings, file):
        return []
    read = (_entry(row, columns, written, folder.findings, file) for row in rows)
    return [entry for entry in read if entry]


def order_lines(
    entries: Iterable[Entry],
    blanks: Iterable[str],
    artworks: Mapping[str, Artwork | None],
    folder: JobFolder,
) -> tuple[tuple[OrderLine, ...], dict[str, Artwork]]:
    """Look up what the orders name.

    Parameters
    ----------
    entries
        The orders as written.
    blanks, artworks
        Every name the document gives to a blank and to an artwork, whether or not that is sound.
    folder
        Where drawings are read that an order names by their path.

    Returns
    -------
    The order lines, and the artworks made of drawings that they name by path.
    """
    lines: dict[str, OrderLine] = {}
    drawn: dict[str, Artwork] = {}
    known = list(blanks)
    for entry in entries:
        order, findings = entry.written, folder.findings
        if order.blank not in known:
            message = f"unknown blank {order.blank!r}{nearest(order.blank, known)}"
            findings.add(entry.where("blank"), message, entry.file)
        named = entry.artworks(artworks)
        for artwork in named:
            if artwork not in artworks and artwork not in drawn:
                _draw(artwork, entry, artworks, drawn, folder)
        if len(set(named)) < len(named):
            message = f"found {order.artwork!r}; an artwork is named once"
            findings.add(entry.where("artwork"), message, entry.file)
        name = order.line or entry.name
        if name in lines:
            findings.add(
                entry.where("line"), f"found {name!r} a second time; a name is given once", entry.file
            )
        spares = spares_for(order.quantity, order.spares)
        lines[name] = OrderLine(
            name,
            order.blank,
            order.quantity + spares,
            named,
            dict(order.texts),
            order.due,
            order.priority,
            entry.source,
            order.customer,
            spares,
        )
    return tuple(lines.values()), drawn


def spares_for(quantity: int, written: int | str) -> int:
    """Count the spares of an order line: as many as written, or a share of its quantity, rounded up.

    >>> spares_for(50, 2), spares_for(50, "3 %"), spares_for(100, "3%"), spares_for(50, "0 %")
    (2, 2, 3, 0)
    """
    if isinstance(written, int):
        return written
    return math.ceil(Fraction(written.rstrip(" %")) * quantity / 100)


def _draw(
    written: str,
    entry: Entry,
    artworks: Iterable[str],
    drawn: dict[str, Artwork],
    folder: JobFolder,
) -> None:
    """Make an artwork of a drawing that is named by its path."""
    where = entry.where("artwork")
    if not folder.is_drawing(written):
        message = f"unknown artwork {written!r}{nearest(written, artworks)}; allowed too: a drawing's path"
        folder.findings.add(where, message, entry.file)
        return
    if folder.is_picture(written):
        drawing = folder.traced(written, where, Tracing(), file=entry.file)
    else:
        read = folder.drawing(written, where, entry.file)
        drawing = read and folder.with_outlines(read, written, where, Tracing(), entry.file)
    if drawing:
        drawn[written] = Artwork(written, drawing)


def _columns_there(columns: ColumnsDocument, row: OrderRow, findings: Findings, file: str) -> bool:
    """Note the columns that are missing from an order list."""
    needed = {"blank", "quantity", *columns.model_fields_set}
    missing = [(key, name) for key, name in columns if key in needed and name.casefold() not in row.cells]
    for key, name in missing:
        message = f"there is no such column, which holds the {key}{nearest(name, row.cells)}"
        findings.add(f"row 1, column {name}", message, file)
    return not missing


def _written_at(order: OrderDocument, place: int, key: str) -> str:
    """Give the key path of a part of an order: one of its keys, or one of its texts."""
    return key_path("orders", place, *(() if key in type(order).model_fields else ("texts",)), key)


def _entry(
    row: OrderRow, columns: Mapping[str, str], source: OrderListDocument, findings: Findings, file: str
) -> Entry | None:
    def where(key: str) -> str:
        return f"row {row.number}, column {columns.get(key, key)}"

    try:
        written = OrderDocument.model_validate(_values(row, columns, source.decimal))
    except ValidationError as error:
        for path, message in worded(error, OrderDocument):
            findings.add(where(str(path[-1])), message, file)
        return None
    return Entry(written, f"row {row.number}", file, where, f"{source.file}, row {row.number}")


def _values(row: OrderRow, columns: Mapping[str, str], decimal: str | None) -> dict[str, Any]:
    """Turn a row's text into the values of an order; an empty cell is the same as none."""
    cells = {name: cell.strip() for name, cell in row.cells.items() if cell.strip()}
    values: dict[str, Any] = {key: cells.pop(name) for key, name in columns.items() if name in cells}
    if "customer" in values:
        cells[columns["customer"]] = values["customer"]  # the run sheet shows it like other texts
    for key in ("quantity", "priority", "spares"):
        if key in values:
            values[key] = _whole(values[key], decimal)
    return {**values, "texts": cells}


def _whole(text: str, decimal: str | None) -> int | str:
    """Read a whole number; the text itself if it is none, or if it could be meant two ways.

    >>> _whole("12", None), _whole("12,0", None), _whole("1.000", None), _whole("1.000", ",")
    (12, 12, '1.000', 1000)
    """
    plain = text
    if decimal:
        thousands = "." if decimal == "," else ","
        if re.fullmatch(rf"-?[0-9]{{1,3}}(\{thousands}[0-9]{{3}})+(\{decimal}0+)?", text):
            plain = text.replace(thousands, "")
        plain = re.sub(rf"\{decimal}0+$", "", plain)
    else:
        # three noughts could stand for thousands
        plain = re.sub(r"[.,]0{1,2}$", "", text)
    return int(plain) if re.fullmatch(r"-?[0-9]{1,15}", plain) else text
