"""What is to be packed, and onto what."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from nesting.geometry.region import Region

Footprint = Region
"""The outline of a blank seen from above; see `nesting.geometry.region.Region` for its constructors."""


@dataclass(frozen=True)
class Item:
    """A kind of thing to be placed `quantity` times.

    Attributes
    ----------
    name
        Its name, once in a problem.
    footprint
        Its outline. A placement turns it round its own (0, 0) and then shifts it.
    quantity
        How many are wanted, from 1.
    turns
        Allowed turns in degrees counter-clockwise, or ``"any"``.
    gap
        Clear distance in mm to any other footprint; between two items the larger gap holds.
    mirror
        Whether its mirror image may be placed instead.
    edge
        What of it keeps the margin, in the footprint's coordinates: the rest may reach into the margin and
        beyond the sheet's edge. None is all of the footprint. Only rectangular sheets take such items.

    Raises
    ------
    ValueError
        If the quantity, the turns or the gap are out of range.
    """

    name: str
    footprint: Region
    quantity: int = 1
    turns: tuple[float, ...] | Literal["any"] = (0.0, 90.0)
    gap: float = 0.0
    mirror: bool = False
    edge: Region | None = None

    def __post_init__(self) -> None:
        if not isinstance(self.quantity, int) or self.quantity < 1:
            raise ValueError(
                f"item {self.name!r}: quantity must be a whole number from 1, not {self.quantity!r}"
            )
        if self.turns != "any":
            turns = tuple(sorted({float(t) % 360 for t in self.turns}))
            if not turns or not all(map(math.isfinite, turns)):
                raise ValueError(f"item {self.name!r}: turns must be one or more angles in degrees, or 'any'")
            object.__setattr__(self, "turns", turns)
        if not (math.isfinite(self.gap) and self.gap >= 0):
            raise ValueError(f"item {self.name!r}: gap must be a length from 0, not {self.gap!r}")

    @property
    def held(self) -> Region:
        """What of it keeps the margin."""
        return self.edge or self.footprint


@dataclass(frozen=True)
class Sheet:
    """A kind of stock sheet.

    Attributes
    ----------
    width, height
        Size in mm; `height` None is a roll of open length, of which the used length is minimised.
    quantity
        How many there are; None is as many as it takes.
    margin
        Clear distance in mm between any footprint and the sheet's edge, its holes included.
    keep_outs
        Regions (or point lists) that no footprint may enter, in the sheet's coordinates.
    outline
        The outline (or its points) of a sheet that is no rectangle, with `width` and `height` its extent.
    cost
        Cost of one sheet. If any sheet of a problem has one, cost is minimised instead of the number
        of sheets, and a sheet without one costs nothing.
    name
        A name for messages and reports.

    Raises
    ------
    ValueError
        If a size, quantity, margin or cost is out of range.
    """

    width: float
    height: float | None
    quantity: int | None = None
    margin: float = 0.0
    keep_outs: tuple[Region, ...] = ()
    outline: Region | None = None
    cost: float | None = None
    name: str = ""

    def __post_init__(self) -> None:
        for label, value, low in (("width", self.width, True), ("height", self.height, True),
                                  ("margin", self.margin, False), ("cost", self.cost, False)):  # fmt: skip
            if value is not None and not (math.isfinite(value) and (value > 0 or (value == 0 and not low))):
                raise ValueError(
                    f"sheet {self.name!r}: {label} must be {'above' if low else 'from'} 0, not {value!r}"
                )
        if self.quantity is not None and (not isinstance(self.quantity, int) or self.quantity < 1):
            raise ValueError(
                f"sheet {self.name!r}: quantity must be a whole number from 1, not {self.quantity!r}"
            )
        object.__setattr__(self, "keep_outs", tuple(map(_region, self.keep_outs)))
        if self.outline is not None:
            object.__setattr__(self, "outline", _region(self.outline))
            if self.height is None:
                raise ValueError(f"sheet {self.name!r}: a roll cannot have an outline")

    @property
    def region(self) -> Region:
        """The outline, also of a plain rectangle.

        Raises
        ------
        ValueError
            For a roll, whose length is open.
        """
        if self.outline is not None:
            return self.outline
        if self.height is None:
            raise ValueError("a roll has no outline of its own")
        return Region.rectangle(self.width, self.height)


@dataclass(frozen=True)
class Problem:
    """Items to be placed on sheets.

    Raises
    ------
    ValueError
        If there is no item or no sheet, two items share a name, a roll stands among other sheets, or an item
        that may reach beyond the edge meets a sheet that is no rectangle.
    """

    items: tuple[Item, ...]
    sheets: tuple[Sheet, ...]

    def __post_init__(self) -> None:
        names = [item.name for item in self.items]
        if not self.items or not self.sheets:
            raise ValueError("packing needs one item and one sheet or more")
        doubled = sorted({name for name in names if names.count(name) > 1})
        if doubled:
            raise ValueError(f"item names must differ; found more than once: {', '.join(doubled)}")
        if len(self.sheets) > 1 and any(sheet.height is None for sheet in self.sheets):
            raise ValueError("a roll must be the only sheet")
        if any(item.edge for item in self.items) and not all(map(_is_rectangle, self.sheets)):
            raise ValueError("only rectangular sheets take items with an edge of their own")

    @property
    def objective(self) -> Literal["sheets", "cost", "length"]:
        """What is minimised once everything is placed."""
        if self.sheets[0].height is None:
            return "length"
        return "sheets" if all(sheet.cost is None for sheet in self.sheets) else "cost"

    @property
    def quantity(self) -> int:
        """How many items are wanted in all."""
        return sum(item.quantity for item in self.items)


def _is_rectangle(sheet: Sheet) -> bool:
    return sheet.height is not None and (sheet.outline is None or sheet.outline.is_rectangle)


def _region(outline: Region | Iterable[Sequence[float]]) -> Region:
    return outline if isinstance(outline, Region) else Region.polygon(outline)
