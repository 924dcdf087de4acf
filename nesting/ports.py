"""What a plug-in must offer: one small protocol a port, each found by its own entry-point group."""

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Protocol, runtime_checkable

from nesting.geometry.drawing import Drawing
from nesting.geometry.font import Font
from nesting.geometry.picture import Picture
from nesting.job.job import KeptSheet
from nesting.packing.problem import Problem
from nesting.packing.result import Layout
from nesting.packing.stop import Stop
from nesting.plan_values import Plan


class ArtworkReader(Protocol):
    """Reads drawings; group ``nesting.artwork_readers``."""

    suffixes: tuple[str, ...]

    def read(self, path: Path) -> Drawing:
        """Read a drawing in true size.

        Raises
        ------
        nesting.errors.InputError
            With every problem found, if the file is not there, not understood or not safe.
        """


@runtime_checkable
class UnitlessReader(Protocol):
    """What an artwork reader of files that may not say their unit has besides."""

    def read_in(self, path: Path, unit: str) -> Drawing:
        """Read a drawing whose coordinates are in `unit`, one of `nesting.units.MM_PER_UNIT`.

        Raises
        ------
        nesting.errors.InputError
            With every problem found; a file that says another unit is one.
        """


FontOf = Callable[[str, str], Font | None]
"""Gives the font of a family, with some characters; None if none is named for it.

It raises `ValueError` if the font that is named cannot be read.
"""


@runtime_checkable
class LetteredReader(Protocol):
    """What an artwork reader of files that hold texts has besides."""

    def read_lettered(self, path: Path, fonts: FontOf) -> Drawing:
        """Read a drawing, its texts as outlines or lines of fonts.

        Raises
        ------
        nesting.errors.InputError
            With every problem found; a text whose font is not given is one.
        """


@dataclass(frozen=True)
class Tracing:
    """How outlines are found in a picture.

    Attributes
    ----------
    threshold
        What is darker is inside, from 0 (white) to 1 (black); None for Otsu's method.
    smooth
        Outlines may be straightened by this, mm.
    speck
        Spots and holes of fewer mm² are dropped.
    """

    threshold: float | None = None
    smooth: float = 0.0
    speck: float = 0.0


class PictureReader(Protocol):
    """Reads pictures made of pixels; group ``nesting.picture_readers``."""

    suffixes: tuple[str, ...]

    def picture(self, path: Path, ppi: float | None = None, inverted: bool = False) -> Picture:
        """Read a picture; `ppi`, pixels per inch, goes before what the file says.

        Raises
        ------
        nesting.errors.InputError
            With every problem found, if the file is not there, not understood or not safe.
        """

    def trace(self, picture: Picture, tracing: Tracing, path: Path) -> Drawing:
        """Find the outlines of what is dark; `path` is for messages."""


class FontReader(Protocol):
    """Reads fonts; group ``nesting.font_readers``."""

    suffixes: tuple[str, ...]
    packaged: tuple[str, ...]

    def read(self, source: str, characters: str) -> Font:
        """Read the glyphs of some characters from a font file, or from a packaged font by its name.

        Characters that the font does not have are left out.

        Raises
        ------
        nesting.errors.InputError
            With every problem found, if the file is not there, not understood or not safe.
        """


@dataclass(frozen=True)
class OrderRow:
    """One row of an order list: its number as the user counts them, and its cells by column name."""

    number: int
    cells: Mapping[str, str]


class OrderReader(Protocol):
    """Reads order lists; group ``nesting.order_readers``."""

    suffixes: tuple[str, ...]

    def read(self, path: Path) -> list[OrderRow]:
        """Read every row, cells as text, column names lower case.

        Raises
        ------
        nesting.errors.InputError
            With every problem found.
        """


class PackingEngine(Protocol):
    """Packs; group ``nesting.packing_engines``."""

    name: str

    def refusal(self, problem: Problem) -> str | None:
        """Say why this engine cannot take the problem; None if it can."""

    def pack(self, problem: Problem, stop: Stop, seed: int, report: Callable[[Layout], None]) -> Layout:
        """Pack until the problem is solved or `stop` is reached, reporting each better layout."""


class PlanWriter(Protocol):
    """Writes plans; group ``nesting.plan_writers``.

    One with options is a `nesting.plug_in_options.WithOptions`. One that imports a library of an extra
    names it in ``requires``, by module, with what to install for it.
    """

    summary: str

    def files(self, plan: Plan) -> dict[str, bytes]:
        """Make the files, relative path to content; the same plan gives the same bytes."""


@dataclass(frozen=True)
class RackSheet:
    """A sheet on a rack, and when it was taken out of use, if it was."""

    kept: KeptSheet
    retired: date | None = None


class RackStore(Protocol):
    """Keeps cut sheets; group ``nesting.racks``.

    Every method raises `nesting.errors.InputError` for a file that is damaged, of a newer version or no
    rack, and leaves it untouched. What changes a rack changes it in one step, also while others do.
    """

    suffixes: tuple[str, ...]

    def read(self, path: Path) -> tuple[RackSheet, ...]:
        """Read every sheet in the order in which they came, those that are retired too."""

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
        """Add sheets, and count loads of sheets that are there; make the rack if there is none.

        `source` names what is added; adding the same once more is an error but with `again`. The new
        sheets' names are replaced by those that the rack gives them. Returned are the names on the rack of
        the new sheets, and of those that were loaded.
        """

    def retire(self, path: Path, names: Sequence[str], *, today: date) -> None:
        """Take sheets out of use; their entries stay."""


class ExecutorSource(Protocol):
    """Gives worker pools; group ``nesting.executors``."""

    def open(self, workers: int) -> Executor:
        """Open a pool; the caller closes it."""
