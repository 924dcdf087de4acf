"""Where everything lies, and how good that can be."""

from collections import Counter
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

from nesting.geometry.region import Region
from nesting.packing.problem import Problem, Sheet
from nesting.picture import Drawn, sheets_svg


@dataclass(frozen=True, slots=True)
class Placement:
    """One item on a sheet: (mirrored in its own y axis,) turned round its own (0, 0), then shifted.

    Attributes
    ----------
    item
        The item's name.
    sheet
        Index into the layout's sheets.
    x, y
        Shift in mm, on the 1 µm grid.
    turn
        Degrees counter-clockwise.
    """

    item: str
    sheet: int
    x: float
    y: float
    turn: float
    mirrored: bool = False

    def of(self, footprint: Region) -> Region:
        """Put a footprint where this placement says, in sheet coordinates."""
        return (footprint.mirrored() if self.mirrored else footprint).moved(self.x, self.y, self.turn)


@dataclass(frozen=True, slots=True)
class Bound:
    """A proven limit on the objective and the sentence that says why it holds.

    `value` is a lower bound on sheets, cost or length (mm); where not everything can be placed
    (objective ``"placed"``) it is an upper bound on the number of items placed.
    """

    value: float
    reason: str


@dataclass(frozen=True)
class Layout:
    """The answer to a packing problem.

    Attributes
    ----------
    problem
        What was asked.
    sheets
        The sheets used, one entry each; on a roll, one sheet as long as what is used of it.
    placements
        Where everything lies.
    bound
        The limit on the objective that no layout can pass: fewest sheets, least cost, least length
        in mm, or most items placed (see `objective`).
    bound_reason
        Why that bound holds.
    engine
        The engine that found the placements.
    explanation
        Why that engine was chosen.
    seconds
        Wall-clock time spent.
    """

    problem: Problem
    sheets: tuple[Sheet, ...]
    placements: tuple[Placement, ...]
    bound: float
    bound_reason: str = ""
    engine: str = ""
    explanation: str = ""
    seconds: float = 0.0

    @cached_property
    def unplaced(self) -> dict[str, int]:
        """How many of each item found no place; items that are all placed are left out."""
        placed = Counter(placement.item for placement in self.placements)
        left = {item.name: item.quantity - placed[item.name] for item in self.problem.items}
        return {name: count for name, count in left.items() if count}

    @property
    def objective(self) -> Literal["sheets", "cost", "length", "placed"]:
        """What `value` and `bound` count: ``"placed"`` as long as something is unplaced."""
        return "placed" if self.unplaced else self.problem.objective

    @property
    def value(self) -> float:
        """The objective reached: number of sheets, cost, used length in mm, or items placed."""
        return len(self.placements) if self.unplaced else self.spent

    @property
    def spent(self) -> float:
        """What the placements take: sheets, cost, or length in mm, whether or not all are placed."""
        if self.problem.objective == "length":
            return self.used_length
        if self.problem.objective == "cost":
            return sum(sheet.cost or 0.0 for sheet in self.sheets)
        return len(self.sheets)

    @property
    def proven(self) -> bool:
        """Whether value and bound meet, so that no layout can be better."""
        return abs(self.value - self.bound) <= 1e-6 * max(1.0, abs(self.bound))

    @cached_property
    def regions(self) -> tuple[Region, ...]:
        """The placed footprints, one for each placement, in their sheet's coordinates."""
        footprints = {item.name: item.footprint for item in self.problem.items}
        return tuple(placement.of(footprints[placement.item]) for placement in self.placements)

    @cached_property
    def used_length(self) -> float:
        """Highest y any footprint reaches, plus the margin: what is used of a roll, in mm."""
        top = max((region.bounds[3] for region in self.regions), default=0.0)
        return top + self.problem.sheets[0].margin

    @cached_property
    def fill(self) -> float:
        """Area of the placed footprints over the area of the sheets used, 0 to 1."""
        used = self.problem.sheets[0].width * self.used_length if self.problem.objective == "length" else sum(
            sheet.region.area for sheet in self.sheets
        )  # fmt: skip
        areas = {item.name: item.footprint.area for item in self.problem.items}
        return sum(areas[placement.item] for placement in self.placements) / used if used else 0.0

    def on_sheet(self, sheet: int) -> tuple[Placement, ...]:
        """Give the placements on one of the sheets."""
        return tuple(placement for placement in self.placements if placement.sheet == sheet)

    def with_changes(self, **changes: object) -> "Layout":
        """Copy with some attributes replaced."""
        return replace(self, **changes)  # type: ignore[arg-type]

    def _repr_svg_(self) -> str:
        """Show the sheets in a notebook."""
        ways = list(zip(self.placements, self.regions, strict=True))
        return sheets_svg(
            [
                Drawn(
                    f"Sheet {k + 1} of {len(self.sheets)}",
                    sheet.region,
                    tuple((region, placement.item) for placement, region in ways if placement.sheet == k),
                )
                for k, sheet in enumerate(self.sheets)
            ]
        )

    def better_than(self, other: "Layout | None") -> bool:
        """Tell whether this layout places more, or as much at a better objective."""
        if other is None or len(self.placements) != len(other.placements):
            return other is None or len(self.placements) > len(other.placements)
        return self.spent < other.spent - 1e-9
