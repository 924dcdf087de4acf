"""From a job document to the job it means: files read, names looked up, lengths in mm."""

from pathlib import Path
from typing import Any

from nesting.errors import InputError
from nesting.job import checks
from nesting.job.artworks import Artworks
from nesting.job.build import Builder
from nesting.job.document import JobDocument, OrderDocument, OrderListDocument
from nesting.job.draft import Draft
from nesting.job.findings import Findings
from nesting.job.folder import JobFolder
from nesting.job.job import Job, KeptSheet
from nesting.job.orders import Entry, document_entries, list_entries, order_lines
from nesting.job.schema import job_schema
from nesting.job.shapes import Shapes
from nesting.job.syntax import read_document
from nesting.rack import read_rack

__all__ = ["job_from", "job_schema", "load_job"]


def load_job(path: str | Path, *, rack: str | Path | None = None) -> Job:
    """Read a job document, TOML or JSON, and every file it names.

    Parameters
    ----------
    path
        The document; files named in it are looked up from its folder.
    rack
        A rack of kept sheets, wherever it lies; it goes before the one that the document names.

    Raises
    ------
    nesting.errors.InputError
        With everything that is wrong in the document and in its files.
    """
    path = Path(path)
    return _job(read_document(path), path.parent, str(path), rack)


def job_from(
    document: dict[str, Any] | JobDocument, folder: str | Path = ".", *, rack: str | Path | None = None
) -> Job:
    """Make a job of a document in memory.

    Parameters
    ----------
    document
        The document, or the tables and lists that it would be read from.
    folder
        Where files named in it are looked up.
    rack
        As for `load_job`.

    Raises
    ------
    nesting.errors.InputError
        With everything that is wrong in the document and in its files.
    """
    raw = document.model_dump(exclude_unset=True) if isinstance(document, JobDocument) else document
    return _job(raw, Path(folder), "", rack)


def _job(raw: Any, folder: Path, file: str, rack: str | Path | None) -> Job:
    if not isinstance(raw, dict):
        raise InputError.single("a job document is one table, not a list or a single value", file=file)
    findings = Findings(file)
    draft = Draft(raw, findings)
    files = JobFolder(folder, findings)
    shapes = Shapes(draft.unit, files)
    builder = Builder(draft, shapes)
    machine, stock, blanks = builder.machine(), builder.stock(), builder.blanks()
    entries = _entries(draft, files)
    artworks = Artworks(draft, shapes, entries).all()
    orders, drawn = order_lines(entries, draft.names("blanks").values(), artworks, files)
    checks.check_names(draft, findings)
    checks.check_settings(blanks, draft.names("settings").values(), findings)
    checks.check_reliefs(blanks, findings)
    checks.check_materials(builder.materials(), draft.texts("acknowledged_materials"), findings)
    checks.check_stock(stock, machine, findings)
    overhang = builder.overhang()
    checks.check_fit(blanks, stock, overhang, findings)
    kept = _kept(draft, files, rack)
    checks.check_kept(kept, draft.names("stock"), findings)
    marks = builder.sheet_marks()
    output = draft.tables("output")
    checks.check_output(output, findings)
    if findings or machine is None:
        raise findings.error()
    return Job(
        title=draft.raw["title"],
        machine=machine,
        settings=builder.settings(),
        stock=tuple(stock.values()),
        blanks=tuple(blanks.values()),
        artworks=(*(artwork for artwork in artworks.values() if artwork), *drawn.values()),
        orders=orders,
        sheet_use=draft.raw.get("sheet_use", "reload"),
        web=builder.web(),
        acknowledged_materials=draft.texts("acknowledged_materials"),
        output=output,
        sheet_marks=marks,
        same_in_load=tuple(dict.fromkeys(draft.raw.get("same_in_load", ()))),
        costs=builder.costs(),
        overhang=overhang,
        kept=kept,
    )


def _kept(draft: Draft, files: JobFolder, rack: str | Path | None) -> tuple[KeptSheet, ...]:
    """Read the sheets on the rack that was given or, without one, on the one that the document names."""
    written = draft.raw.get("rack")
    if rack is None:
        return files.kept_sheets(written, "rack") if isinstance(written, str) else ()
    try:
        return read_rack(rack)
    except InputError as error:
        files.findings.extend(error.problems)
        return ()


def _entries(draft: Draft, files: JobFolder) -> list[Entry]:
    """Read the orders as they are written, in the document and in its order list."""
    entries = document_entries(draft.items("orders", OrderDocument), files.findings.file)
    order_list = draft.table("order_list", OrderListDocument)
    if order_list:
        entries += list_entries(order_list, files)
    elif not draft.raw.get("orders"):
        files.findings.add("orders", "found no order line; needed: one or more, here or in an order_list")
    return entries
