"""The job's folder: files are named from here, and none outside of it is ever opened."""

import re
from pathlib import Path, PurePosixPath
from typing import Any

from nesting import _plugins
from nesting.errors import InputError
from nesting.geometry.drawing import Drawing
from nesting.job.findings import Findings
from nesting.ports import OrderRow


class JobFolder:
    """Opens the files that a job names; each is read once, and each problem is noted.

    Parameters
    ----------
    folder
        Where the job document lies.
    findings
        Where problems go.
    """

    def __init__(self, folder: Path, findings: Findings) -> None:
        self.folder = folder
        self.findings = findings
        self._drawings: dict[Path, Drawing | None] = {}
        self._readers: dict[tuple[str, str], Any] = {}

    def drawing(self, written: str, where: str, file: str | None = None) -> Drawing | None:
        """Read the drawing that the job names at `where`; None, with the reason noted, if that fails."""
        path = self._locate(written, where, file)
        if path is not None and path not in self._drawings:
            self._drawings[path] = self._read("artwork_readers", path, where, file)
        return self._drawings[path] if path is not None else None

    def order_rows(self, written: str, where: str) -> list[OrderRow] | None:
        """Read an order list; None, with the reason noted, if that fails."""
        path = self._locate(written, where, None)
        return self._read("order_readers", path, where, None) if path is not None else None

    def is_drawing(self, written: str) -> bool:
        """Tell whether a text can be meant as the path of a drawing, by its slash or its suffix."""
        suffix = PurePosixPath(written).suffix
        return "/" in written or (suffix != "" and self._reader("artwork_readers", suffix) is not None)

    def name_of(self, written: str) -> str:
        """Name a file of the job as the user would, for a problem in it."""
        return str(self.folder / written)

    def _read(self, group: str, path: Path, where: str, file: str | None) -> Any:
        reader = self._reader(group, path.suffix)
        if reader is None:
            allowed = ", ".join(_plugins.suffixes(group)) or "none, for no reader is installed"
            self.findings.add(where, f"found a file ending in {path.suffix!r}; allowed: {allowed}", file)
            return None
        try:
            return reader.read(path)
        except InputError as error:
            self.findings.extend(error.problems)
            return None

    def _reader(self, group: str, suffix: str) -> Any:
        """Find the plug-in once for each suffix, for looking through what is installed takes long."""
        if (group, suffix) not in self._readers:
            self._readers[group, suffix] = _plugins.load_for_suffix(group, suffix)
        return self._readers[group, suffix]

    def _locate(self, written: str, where: str, file: str | None) -> Path | None:
        refused = _escape(written) or self._missing(written)
        if refused:
            self.findings.add(where, f"found {written!r}; {refused}", file)
            return None
        return self.folder / written

    def _missing(self, written: str) -> str:
        path = self.folder / written
        try:
            if not path.resolve().is_relative_to(self.folder.resolve()):
                return "this leads out of the job's folder, and only files in it are read"
            if path.is_dir():
                return "this is a folder; a file is needed"
            return "" if path.is_file() else f"there is no such file in {str(self.folder)!r}"
        except (OSError, RuntimeError, ValueError) as error:
            return f"this cannot be opened: {error}"


def _escape(written: str) -> str:
    """Say why a path is refused before anything is looked up; empty if it is not."""
    if not written.isprintable():
        return "allowed: a path without control characters"
    if re.match(r"[A-Za-z]:|[\\/~]", written):
        return "allowed: a path that starts in the job's folder"
    if ".." in re.split(r"[\\/]", written):
        return "allowed: a path without '..', for only files in the job's folder are read"
    return "allowed: a path with '/' between folders" if "\\" in written else ""
