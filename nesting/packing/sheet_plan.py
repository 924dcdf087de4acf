"""Which sheets are cut and how each is loaded: the answer of packing to a job."""

from collections import Counter
from dataclasses import dataclass

from nesting.job.job import KeptSheet, Stock
from nesting.packing.load_groups import Key
from nesting.packing.result import Placement
from nesting.plan_values import Unit


@dataclass(frozen=True)
class PlacedSheet:
    """A sheet: its stock, and where the blanks lie on it.

    Attributes
    ----------
    kept
        The kept sheet that it is; None for one that is to be cut.
    numbers
        The pockets of a kept sheet that the placements lie in.
    """

    stock: Stock
    placements: tuple[Placement, ...]
    kept: KeptSheet | None = None
    numbers: tuple[int, ...] = ()

    @property
    def pockets(self) -> Counter[str]:
        """How many pockets it has for each blank."""
        return Counter(placement.item for placement in self.placements)


@dataclass(frozen=True)
class LoadPlan:
    """One filling of a sheet: how many units of each blank, marked from the `focus_height` (mm) up.

    `heights` are the focus heights of the blanks in it, lowest first. All units share the `key`; see
    `nesting.packing.load_groups`.
    """

    sheet: int
    focus_height: float
    counts: tuple[tuple[str, int], ...]
    key: Key = ()
    heights: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True)
class AssignedLoad:
    """A load with its units: pairs of a pocket's number and the unit in it; else as `LoadPlan`."""

    sheet: int
    focus_height: float
    units: tuple[tuple[int, Unit], ...]
    heights: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True)
class SheetPlan:
    """Sheets and loads in working order.

    Attributes
    ----------
    sheets
        The sheets to cut, and the kept ones that are used.
    loads
        Their loads; `LoadPlan.sheet` is an index into `sheets`.
    unplaced
        Order lines with the number of units that found no pocket.
    bound, proven, reason
        No plan for all units cuts fewer sheets than `bound`, because of `reason`; `proven` if this one
        cuts as many, at the least cost if stock has costs.
    loads_bound, loads_reason
        No plan that cuts that many sheets has fewer loads, because of `loads_reason`.
    explanation
        How the sheets were found.
    cost_bound
        Sheets, cutting and loads cost no less in any plan; see `nesting.packing.costs`.
    """

    sheets: tuple[PlacedSheet, ...]
    loads: tuple[LoadPlan, ...]
    unplaced: tuple[tuple[str, int], ...]
    bound: int
    proven: bool
    reason: str
    loads_bound: int
    explanation: str
    loads_reason: str = ""
    cost_bound: float = 0.0
