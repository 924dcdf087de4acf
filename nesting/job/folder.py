"""The job's folder: files are named from here, and none outside of it is ever opened."""

import re
from collections.abc import Callable, Mapping
from pathlib import Path, PurePosixPath
from typing import Any

from nesting import _plugins
from nesting.errors import InputError
from nesting.geometry.drawing import Drawing
from nesting.geometry.font import Font
from nesting.geometry.picture import Picture
from nesting.job.findings import Findings, nearest
from nesting.job.inlays import traced
from nesting.job.job import KeptSheet
from nesting.plug_in_options import Options, lacking, option_problems, with_options
from nesting.ports import LetteredReader, OrderRow, Tracing, UnitlessReader

EMBEDDED = ".png"
"""The reader of these files traces the pictures inside drawings too."""


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
        self._read_before: dict[tuple[Any, ...], Any] = {}
        self._readers: dict[tuple[str, str], Any] = {}

    def drawing(
        self, written: str, where: str, file: str | None = None, unit: str | None = None
    ) -> Drawing | None:
        """Read the drawing that the job names at `where`; None, with the reason noted, if that fails.

        `unit` is for a drawing that does not say its own.
        """
        path = self._locate(written, where, file)
        reader = self._reader_of("artwork_readers", path, where, file)
        if path is None or reader is None:
            return None
        found: Drawing | None
        if unit is None:
            found = self._once((path,), lambda: reader.read(path))
            return found
        if not isinstance(reader, UnitlessReader):
            message = f"found a unit, but drawings ending in {path.suffix!r} say their own; leave it out"
            self.findings.add(where.removesuffix(".file") + ".unit", message, file)
            return None
        found = self._once((path, unit), lambda: reader.read_in(path, unit))
        return found

    def lettered(self, written: str, where: str, fonts: Mapping[str, str]) -> Drawing | None:
        """Read a drawing with texts; None, with the reason noted, if that fails.

        `where` is the artwork; `fonts` are what it names for the families of the texts.
        """
        path = self._locate(written, f"{where}.file", None)
        reader = self._reader_of("artwork_readers", path, f"{where}.file", None)
        if path is None or reader is None:
            return None
        if not isinstance(reader, LetteredReader):
            message = f"found fonts, but no texts are read of drawings ending in {path.suffix!r}"
            self.findings.add(f"{where}.fonts", message + "; leave it out")
            return None
        named = {family.casefold(): (family, source) for family, source in fonts.items()}

        def font_of(family: str, characters: str) -> Font | None:
            key, source = named.get(family.casefold(), (family, None))
            if source is None:
                return None
            font = self.font(source, f"{where}.fonts.{key}", characters)
            if font is None:
                raise ValueError(f"the font for {family!r} cannot be read")
            return font

        found: Drawing | None = self._once(
            (path, tuple(sorted(fonts.items()))), lambda: reader.read_lettered(path, font_of)
        )
        return found

    def picture(self, written: str, where: str, ppi: float | None, inverted: bool) -> Picture | None:
        """Read the picture that the job names at `where`; None, with the reason noted, if that fails."""
        path = self._locate(written, where, None)
        reader = self._reader_of("picture_readers", path, where, None)
        if path is None or reader is None:
            return None
        found: Picture | None = self._once((path, ppi, inverted), lambda: reader.picture(path, ppi, inverted))
        return found

    def traced(
        self,
        written: str,
        where: str,
        tracing: Tracing,
        ppi: float | None = None,
        inverted: bool = False,
        file: str | None = None,
    ) -> Drawing | None:
        """Read the outlines of a picture; None, with the reason noted, if that fails."""
        path = self._locate(written, where, file)
        reader = self._reader_of("picture_readers", path, where, file)
        if path is None or reader is None:
            return None
        picture = self._once((path, ppi, inverted), lambda: reader.picture(path, ppi, inverted))
        if picture is None:
            return None
        found: Drawing | None = self._once(
            (path, ppi, inverted, tracing), lambda: reader.trace(picture, tracing, path)
        )
        return found

    def with_outlines(
        self, drawing: Drawing, written: str, where: str, tracing: Tracing, file: str | None = None
    ) -> Drawing | None:
        """Trace the pictures in a drawing; None, with the reason noted, if that fails."""
        if not drawing.inlays:
            return drawing
        path = self.folder / written
        reader = self._reader_of("picture_readers", path.with_suffix(EMBEDDED), where, file)
        found: Drawing | None = reader and self._once(
            (path, drawing.inlays, tracing), lambda: traced(drawing, tracing, reader, path)
        )
        return found

    def font(self, written: str, where: str, characters: str) -> Font | None:
        """Read a font, packaged or a file; None, with the reason noted, if that fails."""
        readers = [_plugins.load("font_readers", name) for name in _plugins.names("font_readers")]
        packaged = {font: reader for reader in readers for font in reader.packaged}
        source, reader = written, packaged.get(written)
        if reader is None and PurePosixPath(written).suffix == "":
            self.findings.add(where, f"unknown font {written!r}{nearest(written, packaged)}; or a font file")
        elif reader is None:
            path = self._locate(written, where, None)
            source, reader = str(path), self._reader_of("font_readers", path, where, None)
        if reader is None:
            return None
        found: Font | None = self._once((source, characters), lambda: reader.read(source, characters))
        return found

    def order_rows(
        self, written: str, where: str, options: Options, options_where: str
    ) -> list[OrderRow] | None:
        """Read an order list with options for its reader; None, with the reason noted, if that fails."""
        path = self._locate(written, where, None)
        reader = self._reader_of("order_readers", path, where, None)
        if path is None or reader is None:
            return None
        wrong = list(option_problems(reader, options, options_where, self.findings.file))
        self.findings.extend(wrong)
        if wrong:
            return None
        chosen = with_options(reader, options, options_where)
        rows: list[OrderRow] | None = self._once((path, chosen), lambda: chosen.read(path))
        return rows

    def kept_sheets(self, written: str, where: str) -> tuple[KeptSheet, ...]:
        """Read the sheets in use on a rack; none, with the reason noted, if that fails."""
        path = self._locate(written, where, None)
        store = self._reader_of("racks", path, where, None)
        if path is None or store is None:
            return ()
        found = self._once((path,), lambda: store.read(path))
        return tuple(entry.kept for entry in found or () if entry.retired is None)

    def is_drawing(self, written: str) -> bool:
        """Tell whether a text can be meant as the path of a drawing, by its slash or its suffix."""
        suffix = PurePosixPath(written).suffix
        known = suffix != "" and self._reader("artwork_readers", suffix) is not None
        return "/" in written or known or self.is_picture(written)

    def is_picture(self, written: str) -> bool:
        """Tell whether a path is that of a picture of pixels, by its suffix."""
        suffix = PurePosixPath(written).suffix
        return suffix != "" and self._reader("picture_readers", suffix) is not None

    def name_of(self, written: str) -> str:
        """Name a file of the job as the user would, for a problem in it."""
        return str(self.folder / written)

    def _reader_of(self, group: str, path: Path | None, where: str, file: str | None) -> Any:
        """Find the reader of a file; None, with the reason noted, if there is none."""
        if path is None:
            return None
        reader = self._reader(group, path.suffix)
        if reader is None:
            groups = ("artwork_readers", "picture_readers") if group == "artwork_readers" else (group,)
            known = sorted({suffix for each in groups for suffix in _plugins.suffixes(each)})
            allowed = ", ".join(known) or "none, for no reader is installed"
            self.findings.add(where, f"found a file ending in {path.suffix!r}; allowed: {allowed}", file)
        elif lacking(reader):
            self.findings.add(where, f"found a file ending in {path.suffix!r}, which {lacking(reader)}", file)
            return None
        return reader

    def _once(self, key: tuple[Any, ...], read: Callable[[], Any]) -> Any:
        """Read what was not read before; None, with the problems noted, if that fails."""
        if key not in self._read_before:
            try:
                self._read_before[key] = read()
            except InputError as error:
                self.findings.extend(error.problems)
                self._read_before[key] = None
        return self._read_before[key]

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
