"""A rack of kept sheets in one SQLite file.

A change is one transaction: whatever breaks it off, the next command finds the rack as it was before or
after it. A rack that is not there yet is made beside its place and then moved there.
"""

import os
import sqlite3
import struct
from collections.abc import Iterator, Mapping, Sequence
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass, replace
from datetime import date
from functools import cache
from glob import escape
from hashlib import sha256
from pathlib import Path
from threading import RLock
from uuid import uuid4

from pydantic import ConfigDict, TypeAdapter, ValidationError

from nesting.disk import held, sync_names
from nesting.errors import InputError, Problem
from nesting.job.job import KeptSheet
from nesting.ports import RackSheet

RACK_VERSION = 1
"""Raised when the tables or what is written into them change their shape."""

APPLICATION = 0x4E52434B
"""What SQLite calls the application's id; it stands in the file's header and makes it a rack."""

BUSY_SECONDS = 30.0
"""So long a command waits for another one that changes the rack."""

_ALONE = RLock()
"""Held while a rack is open: closing a file that another thread has open in SQLite would drop its locks there
(sqlite.org/howtocorrupt.html, section 2.2)."""

_HEADER = 100
_MAGIC = b"SQLite format 3\0"

_TABLES = f"""
PRAGMA application_id = {APPLICATION};
PRAGMA user_version = {RACK_VERSION};
CREATE TABLE sheets (
    number INTEGER PRIMARY KEY,
    content TEXT NOT NULL,
    used INTEGER NOT NULL,
    retired TEXT,
    digest TEXT NOT NULL
);
CREATE TABLE sources (source TEXT NOT NULL, added TEXT NOT NULL);
"""


class SqliteRack:
    """Keeps cut sheets in an SQLite file; sheets are called R1, R2 and so on."""

    suffixes = (".rack", ".sqlite")

    def read(self, path: Path) -> tuple[RackSheet, ...]:
        """Read every sheet in the order in which they came, those that are retired too."""
        with _opened(path) as rack:
            return tuple(entry.sheet for entry in _entries(rack, path))

    def add(
        self,
        path: Path,
        new: Sequence[KeptSheet],
        loaded: Sequence[tuple[KeptSheet, int]] = (),
        *,
        source: str,
        today: date,
        again: bool = False,
    ) -> tuple[list[str], list[str]]:
        """Add sheets and count loads on those that are there; make the rack if there is none."""
        if path.exists():
            with _changing(path) as rack:
                return _add(rack, path, new, loaded, source, today, again)
        with closing(sqlite3.connect(":memory:", isolation_level=None)) as rack:
            rack.executescript(_TABLES)
            names = _add(rack, path, new, loaded, source, today, again)
            content = rack.serialize()
        try:
            _clear_beside(path)
            placed = _placed(content, path)
        except OSError as error:
            message = f"a rack cannot be made here: {error.strerror or error}"
            raise InputError.single(message, file=str(path)) from None
        return names if placed else self.add(path, new, loaded, source=source, today=today, again=again)

    def retire(self, path: Path, names: Sequence[str], *, today: date) -> None:
        """Take sheets out of use; their entries stay."""
        with _changing(path) as rack:
            there = {entry.sheet.kept.name: entry for entry in _entries(rack, path)}
            problems = [
                Problem(str(path), "", found) for name in names if (found := _not_in_use(name, there))
            ]
            if problems:
                raise InputError(problems)
            for name in dict.fromkeys(names):
                _write(rack, there[name].changed(retired=today))


@dataclass(frozen=True)
class _Entry:
    """A row of the table of sheets."""

    number: int
    sheet: RackSheet

    def changed(self, *, used: int | None = None, retired: date | None = None) -> "_Entry":
        """Change how often the sheet was used, or since when it is retired."""
        kept = self.sheet.kept if used is None else replace(self.sheet.kept, used=used)
        return replace(self, sheet=RackSheet(kept, retired or self.sheet.retired))


def _add(
    rack: sqlite3.Connection,
    path: Path,
    new: Sequence[KeptSheet],
    loaded: Sequence[tuple[KeptSheet, int]],
    source: str,
    today: date,
    again: bool,
) -> tuple[list[str], list[str]]:
    entries = _entries(rack, path)
    there = {entry.sheet.kept.name: entry for entry in entries}
    before = rack.execute("SELECT added FROM sources WHERE source = ?", (source,)).fetchone()
    if before is not None and not again:
        message = f"this plan was added on {before[0]} already, and is not counted twice"
        raise InputError.single(message, file=str(path))
    counted = []
    for sheet, loads in loaded:
        entry = _entry_of(sheet, there)
        if entry is None:
            message = f"the plan loads a kept sheet {sheet.name!r} that is not the one on this rack"
            raise InputError.single(message, file=str(path))
        name = entry.sheet.kept.name
        there[name] = entry.changed(used=entry.sheet.kept.used + loads)
        _write(rack, there[name])
        counted.append(name)
    first = max((entry.number for entry in entries), default=0) + 1
    added = [_Entry(n, RackSheet(replace(sheet, name=f"R{n}"))) for n, sheet in enumerate(new, first)]
    for entry in added:
        _write(rack, entry)
    rack.execute("INSERT INTO sources VALUES (?, ?)", (source, today.isoformat()))
    return [entry.sheet.kept.name for entry in added], counted


def _not_in_use(name: str, there: Mapping[str, _Entry]) -> str:
    """Say why a sheet cannot be retired; empty if it can."""
    if name not in there:
        in_use = ", ".join(n for n, e in there.items() if e.sheet.retired is None) or "none"
        return f"found no sheet {name!r}; in use: {in_use}"
    retired = there[name].sheet.retired
    return "" if retired is None else f"sheet {name} was retired on {retired} already"


def _entry_of(sheet: KeptSheet, there: Mapping[str, _Entry]) -> _Entry | None:
    """Find the sheet that a plan loads: by its name, or else, kept since by another one, by its pockets."""
    if sheet.name in there:
        kept = there[sheet.name].sheet.kept
        same = (kept.kerf, kept.cut_on) == (sheet.kerf, sheet.cut_on)
        return there[sheet.name] if same and _holds(kept, sheet) else None
    alike = [entry for entry in there.values() if _holds(entry.sheet.kept, sheet)]
    in_use = [entry for entry in alike if entry.sheet.retired is None]
    return next(reversed(in_use or alike), None)


def _holds(kept: KeptSheet, loaded: KeptSheet) -> bool:
    """Tell whether a sheet has the size and the pockets of another one, of which a plan may use a part."""
    pockets, wanted = (
        {(pocket.number, pocket.blank, pocket.x, pocket.y, pocket.turn) for pocket in sheet.pockets}
        for sheet in (kept, loaded)
    )
    return kept.stock == loaded.stock and wanted <= pockets


def _write(rack: sqlite3.Connection, entry: _Entry) -> None:
    kept, retired = entry.sheet.kept, entry.sheet.retired
    content = _adapter().dump_json((kept,)).decode()
    stated = None if retired is None else retired.isoformat()
    row = (entry.number, content, kept.used, stated, _digest(content, kept.used, stated))
    rack.execute("INSERT OR REPLACE INTO sheets VALUES (?, ?, ?, ?, ?)", row)


def _entries(rack: sqlite3.Connection, path: Path) -> list[_Entry]:
    """Read every row, and make sure that it is as it was written."""
    found = []
    rows = rack.execute("SELECT number, content, used, retired, digest FROM sheets ORDER BY number")
    for number, content, used, retired, digest in rows:
        if _digest(content, used, retired) != digest:
            raise _damaged(path, f"sheet R{number} is not as it was written")
        try:
            (kept,) = _adapter().validate_json(content)
            since = None if retired is None else date.fromisoformat(retired)
        except (ValidationError, ValueError) as error:
            raise _damaged(path, f"sheet R{number} cannot be read: {str(error).splitlines()[0]}") from None
        found.append(_Entry(number, RackSheet(kept, since)))
    return found


def _digest(content: object, used: object, retired: object) -> str:
    return sha256(f"{content}\n{used}\n{retired}".encode()).hexdigest()


@cache
def _adapter() -> TypeAdapter[tuple[KeptSheet]]:
    # a configuration reaches plain dataclasses only from a type around them, hence the tuple
    return TypeAdapter(tuple[KeptSheet], config=ConfigDict(extra="forbid", allow_inf_nan=False, strict=True))


@contextmanager
def _opened(path: Path) -> Iterator[sqlite3.Connection]:
    """Open a rack that is there; what SQLite finds wrong with it becomes an error that names it.

    It is opened for writing too, for only so can SQLite undo a change that was broken off.
    """
    with _ALONE:
        _require_rack(path)
        yield from _connected(path)


def _connected(path: Path) -> Iterator[sqlite3.Connection]:
    rack = None
    try:
        rack = sqlite3.connect(
            f"{path.absolute().as_uri()}?mode=rw", uri=True, timeout=BUSY_SECONDS, isolation_level=None
        )
        rack.execute("PRAGMA synchronous = FULL")
        problems = rack.execute("PRAGMA integrity_check(1)").fetchall()
        if problems != [("ok",)]:
            raise _damaged(path, str(problems[0][0]).splitlines()[-1])
        yield rack
    except sqlite3.OperationalError as error:
        raise _refused(path, error) from None
    except sqlite3.DatabaseError as error:
        raise _damaged(path, str(error)) from None
    finally:
        if rack is not None:
            rack.close()


@contextmanager
def _changing(path: Path) -> Iterator[sqlite3.Connection]:
    """Open a rack for one change: all of it is done, or nothing."""
    with _opened(path) as rack:
        rack.execute("BEGIN IMMEDIATE")
        try:
            yield rack
        except BaseException:
            with suppress(sqlite3.Error):  # SQLite itself may have undone it
                rack.execute("ROLLBACK")
            raise
        rack.execute("COMMIT")


def _placed(content: bytes, path: Path) -> bool:
    """Write a new rack beside its place and give it its name; tells whether no other had that by then."""
    beside = path.with_name(f".{path.name}.{uuid4().hex[:12]}")
    try:
        with beside.open("xb") as file:
            held(file.fileno(), wait=True)
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
            placed = _named(beside, path)
    finally:
        beside.unlink(missing_ok=True)
    with suppress(OSError):  # not every folder can be opened
        sync_names(path.parent)
    return placed


def _named(beside: Path, path: Path) -> bool:
    try:
        os.link(beside, path)
    except (FileExistsError, FileNotFoundError):  # another command was first, or cleared it away
        return False
    except OSError:  # a file system without links
        if path.exists():
            return False
        beside.rename(path)
    return True


def _clear_beside(path: Path) -> None:
    """Clear away what commands that were killed while they made this rack left beside it."""
    for left in path.parent.glob(f".{escape(path.name)}.{'[0-9a-f]' * 12}"):
        with suppress(OSError), left.open("rb") as file:
            if held(file.fileno(), wait=False):
                left.unlink()


def _require_rack(path: Path) -> None:
    """Look at the first bytes of a file, before SQLite does anything with it."""
    try:
        with path.open("rb") as file:
            header = file.read(_HEADER)
    except OSError as error:
        reason = "there is no such file; make a rack with: nesting rack add RACK"
        if not isinstance(error, FileNotFoundError):
            reason = f"this rack cannot be read: {error.strerror or error}"
        raise InputError.single(reason, file=str(path)) from None
    if len(header) < _HEADER or not header.startswith(_MAGIC):
        raise InputError.single("this is no rack, and was left as it is", file=str(path))
    (version,), (application,) = struct.unpack(">I", header[60:64]), struct.unpack(">I", header[68:72])
    if application != APPLICATION:
        message = "this is a database of another program, no rack, and was left as it is"
        raise InputError.single(message, file=str(path))
    if version > RACK_VERSION:
        message = f"found version {version}, written by a newer program; this one reads up to {RACK_VERSION}"
        raise InputError.single(f"{message}; it was left as it is", file=str(path))
    if version < 1:
        raise _damaged(path, f"version {version} was never written")


def _refused(path: Path, error: sqlite3.OperationalError) -> InputError:
    """Say why a rack cannot be used now, or that it lacks what a rack has."""
    text = str(error)
    if "locked" in text or "busy" in text:
        message = (
            f"another command is changing this rack and did not end within {BUSY_SECONDS:g} s; try again"
        )
        return InputError.single(message, file=str(path))
    if "readonly" in text or "unable to open" in text or "disk is full" in text:
        return InputError.single(f"this rack cannot be written: {text}", file=str(path))
    return _damaged(path, text)


def _damaged(path: Path, reason: str) -> InputError:
    message = f"this rack is damaged ({reason}) and was left as it is; put a copy of it back"
    return InputError.single(message, file=str(path))
