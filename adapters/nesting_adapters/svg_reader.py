"""Reads SVG drawings as artwork: what is filled or stroked, in millimetres, y up."""

from dataclasses import dataclass
from pathlib import Path
from typing import ClassVar

from nesting.errors import InputError
from nesting.geometry.drawing import Drawing
from nesting.ports import FontOf
from nesting_adapters.svg_document import read_document
from nesting_adapters.svg_values import MM_PER_PX
from nesting_adapters.svg_viewport import page_place
from nesting_adapters.svg_walk import Walk


@dataclass(frozen=True)
class SvgReader:
    """Reads SVG (W3C SVG 2, static shapes).

    Every paint marks, whatever its colour, white too; ``none`` and full transparency do not. What
    cannot be marked (gradients, masks, filters, markers, ...) is an error, never left out; so is a text
    whose font is not given.
    Circles stay arcs; other curves become lines. Pictures inside the file (PNG, JPEG or BMP in a
    ``data:`` link) stay pictures; what is transparent in them is white.

    Attributes
    ----------
    tolerance
        Largest distance in mm between a curve and its lines. Drawings below 20 cm keep to 1/20,000 of
        their longer side instead, for they may be enlarged.
    """

    tolerance: float = 0.01

    suffixes: ClassVar[tuple[str, ...]] = (".svg",)

    def read(self, path: Path) -> Drawing:
        """Read a drawing in true size; in one that states no size a unit of its viewBox is 1/96 inch.

        Raises
        ------
        nesting.errors.InputError
            With every problem found, each with line and element, if the file is not there, is no
            SVG drawing, cannot be marked or is not safe.
        """
        return self.read_lettered(path, lambda _family, _characters: None)

    def read_lettered(self, path: Path, fonts: FontOf) -> Drawing:
        """Read a drawing with texts; see `nesting.ports.LetteredReader` and `read`.

        Families are asked for as ``"NAME"``, ``"NAME bold"``, ``"NAME italic"`` or ``"NAME bold italic"``.
        """
        root = read_document(Path(path))
        walk = Walk(str(path), root, fonts)
        try:
            place, sized = page_place(root, self.tolerance)
        except ValueError as error:
            walk.report(root, str(error))
            raise InputError(walk.problems) from error
        walk.run(root, place)
        if not (walk.shapes or walk.inlays or walk.problems):
            walk.report(root, "nothing is filled or stroked; allowed: a drawing with something to mark")
        if walk.problems:
            raise InputError(walk.problems)
        page = place.page
        width, height = (round(side * MM_PER_PX, 9) for side in (page.width, page.height))
        return Drawing(width, height, tuple(walk.shapes), sized, tuple(walk.inlays))
