"""The figures at the top of the report, and where each order line went."""

from collections import defaultdict
from dataclasses import dataclass
from functools import cached_property

from nesting.job.job import OrderLine
from nesting.plan_values import Path, Times
from nesting_adapters.plan_lookup import Lookup


@dataclass(frozen=True)
class Overview:
    """Totals over a plan; lengths in mm, times in s."""

    lookup: Lookup

    @property
    def placed(self) -> int:
        """Units in a load."""
        return sum(len(load.fillings) for load in self.lookup.plan.loads)

    @property
    def wanted(self) -> int:
        """Units ordered."""
        return sum(order.quantity for order in self.lookup.plan.job.orders)

    @property
    def fetched(self) -> list[str]:
        """Names of the kept sheets that are used, each once, however many ways it is filled."""
        return list(dict.fromkeys(sheet.stock for sheet in self.lookup.plan.kept))

    @property
    def fill(self) -> float:
        """Area of the footprints over the area of all sheets."""
        areas = [self.lookup.stock[sheet.stock].region.area for sheet in self.lookup.plan.all_sheets]
        covered = [sheet.fill * area for sheet, area in zip(self.lookup.plan.all_sheets, areas, strict=True)]
        return sum(covered) / sum(areas) if areas else 0.0

    @property
    def cut_seconds(self) -> float:
        """Estimated time to cut all sheets."""
        return sum(sheet.cut_path.seconds for sheet in self.lookup.plan.sheets)

    @property
    def mark_seconds(self) -> float:
        """Estimated time to mark all loads."""
        return sum(load.mark_path.seconds for load in self.lookup.plan.loads)

    @property
    def times(self) -> Times:
        """What the time of all paths is spent on."""
        return sum((path.times for path in self._paths), Times())

    @property
    def bound_seconds(self) -> float:
        """No order of the same steps takes less time than this, path by path."""
        return sum(path.bound for path in self._paths)

    @property
    def saving(self) -> float:
        """Share of machine time saved against numbered order, every unit by itself."""
        plan = self.lookup.plan
        return 1 - plan.machine_seconds / plan.plain_seconds if plan.plain_seconds else 0.0

    @property
    def numbered_seconds(self) -> float:
        """Estimated time for everything in the order of the numbers."""
        return sum(path.numbered_seconds for path in self._paths)

    @property
    def travel(self) -> float:
        """Beam-off distance of all paths."""
        return sum(path.travel for path in self._paths)

    @property
    def numbered_travel(self) -> float:
        """The same in the order of the numbers."""
        return sum(path.numbered_travel for path in self._paths)

    @property
    def materials(self) -> list[str]:
        """Materials of sheets and blanks, each once."""
        plan = self.lookup.plan
        used = [self.lookup.stock[sheet.stock].material for sheet in plan.all_sheets]
        marked = [blank.material for blank in plan.job.blanks if blank.material]
        return list(dict.fromkeys([*used, *marked]))

    def where(self, order: OrderLine) -> list[tuple[int, list[int]]]:
        """Say in which loads and pockets the units of an order line lie."""
        return self._where.get(order.name, [])

    def placed_of(self, order: OrderLine) -> int:
        """Count the units of an order line that are in a load."""
        return sum(len(pockets) for _, pockets in self.where(order))

    @property
    def _paths(self) -> list[Path]:
        plan = self.lookup.plan
        return [sheet.cut_path for sheet in plan.sheets] + [load.mark_path for load in plan.loads]

    @cached_property
    def _where(self) -> dict[str, list[tuple[int, list[int]]]]:
        found: dict[str, dict[int, list[int]]] = defaultdict(lambda: defaultdict(list))
        for load in self.lookup.plan.loads:
            for filling in load.fillings:
                found[filling.unit.line][load.number].append(filling.pocket)
        return {line: list(loads.items()) for line, loads in found.items()}
