"""What every writer asks a plan: who lies where, in the order in which things are done."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import groupby

from nesting.geometry.contour import Contour
from nesting.geometry.region import Region
from nesting.job.job import Blank, KeptSheet, MarkSetting, OrderLine, Stock
from nesting.motion.sweeping import Sweep
from nesting.plan_values import CutSheet, Filling, Load, Marking, Part, Plan, Pocket, Step

Spot = tuple[float, float]


@dataclass(frozen=True)
class Place:
    """One unit of a load with everything that belongs to it."""

    load: Load
    sheet: CutSheet
    pocket: Pocket
    filling: Filling
    blank: Blank
    order: OrderLine
    setting: MarkSetting
    marking: Marking | None

    def part(self, step: Step) -> Part:
        """Find the part of this unit's marking that a step runs."""
        if self.marking is None:
            raise ValueError(f"pocket {self.pocket.number} of load {self.load.number} is not marked")
        return self.marking.parts[step.part]

    def lying(self, contour: Contour) -> Contour:
        """Move a contour from the blank's coordinates to the sheet's."""
        return contour.moved(self.pocket.x, self.pocket.y, self.pocket.turn)


@dataclass(frozen=True)
class Lookup:
    """A plan with its names resolved once."""

    plan: Plan

    @cached_property
    def blanks(self) -> dict[str, Blank]:
        """Blanks by name."""
        return {blank.name: blank for blank in self.plan.job.blanks}

    @cached_property
    def stock(self) -> dict[str, Stock]:
        """What sheets are of, by the name they give: stock entries and kept sheets."""
        return self.plan.job.all_stock

    @cached_property
    def sheets(self) -> dict[str, CutSheet]:
        """Sheets by name."""
        return {sheet.name: sheet for sheet in self.plan.all_sheets}

    def kept(self, sheet: CutSheet) -> KeptSheet | None:
        """Give the kept sheet that a sheet of the plan is; None for one to be cut."""
        return self._kept.get(sheet.stock) if sheet in self.plan.kept else None

    def resting(self, sheet: CutSheet) -> list[Region]:
        """Give the holes of a kept sheet that no load of this plan fills as `sheet`."""
        kept, filled = self.kept(sheet), {pocket.number for pocket in sheet.pockets}
        return [pocket.outline for pocket in kept.pockets if pocket.number not in filled] if kept else []

    def loads_of(self, sheet: CutSheet) -> tuple[Load, ...]:
        """Give the loads that use a sheet."""
        return tuple(load for load in self.plan.loads if load.sheet == sheet.name)

    def places(self, load: Load) -> list[Place]:
        """Give a load's units in the order of their pockets' numbers."""
        sheet = self.sheets[load.sheet]
        pockets = {pocket.number: pocket for pocket in sheet.pockets}
        return [
            self._place(load, sheet, pockets[filling.pocket], filling)
            for filling in sorted(load.fillings, key=lambda filling: filling.pocket)
        ]

    def _place(self, load: Load, sheet: CutSheet, pocket: Pocket, filling: Filling) -> Place:
        blank = self.blanks[pocket.blank]
        return Place(
            load, sheet, pocket, filling, blank,
            order=self._orders[filling.unit.line],
            setting=self._settings[blank.setting],
            marking=self._markings[filling.marking] if filling.marking is not None else None,
        )  # fmt: skip

    @cached_property
    def _kept(self) -> dict[str, KeptSheet]:
        return {sheet.name: sheet for sheet in self.plan.job.kept}

    @cached_property
    def _orders(self) -> dict[str, OrderLine]:
        return {order.name: order for order in self.plan.job.orders}

    @cached_property
    def _settings(self) -> dict[str, MarkSetting]:
        return {setting.name: setting for setting in self.plan.job.settings}

    @cached_property
    def _markings(self) -> dict[str, Marking]:
        return {marking.name: marking for marking in self.plan.markings}


def pockets_cut(sheet: CutSheet) -> dict[int, Pocket]:
    """Give what the steps of a cut path name, by number: pockets, and as 0 the sheet's own outline."""
    pockets = {pocket.number: pocket for pocket in sheet.pockets}
    if sheet.outline_path:
        pockets[0] = Pocket(0, "", 0.0, 0.0, 0.0, Region(sheet.outline_path[0]), sheet.outline_path)
    return pockets


def in_turn(steps: tuple[Step, ...]) -> Iterator[tuple[int, list[Step]]]:
    """Split a path's steps into stretches that stay at one pocket, in running order."""
    for pocket, stretch in groupby(steps, key=lambda step: step.pocket):
        yield pocket, list(stretch)


def as_run(contour: Contour, step: Step) -> Contour:
    """Give a contour the start and the direction in which a step runs it."""
    started = contour.started(step.start) if contour.closed else contour
    return started.reversed() if step.backwards else started


def sweeps_as_run(part: Part, step: Step) -> list[Contour]:
    """Give the sweeps of a fill as lines, in the order and direction in which a step runs them."""
    return swept_lines(part.sweeps, backwards=step.backwards)


def swept_lines(sweeps: Sequence[Sweep], *, backwards: bool) -> list[Contour]:
    """Give sweeps as lines; backwards all of them are run the other way, the last one first."""
    if backwards:
        sweeps = [(x1, y1, x0, y0) for x0, y0, x1, y1 in reversed(sweeps)]
    return [Contour.polyline([(x0, y0), (x1, y1)], closed=False) for x0, y0, x1, y1 in sweeps]


def load_name(load: Load) -> str:
    """Name a load in file names: ``load-01``."""
    return f"load-{load.number:02d}"


def heights_in_words(load: Load) -> str:
    """Name the focus heights of a load in their order: ``4 mm, then 75 mm``."""
    return ", then ".join(f"{height:g} mm" for height in load.focus_heights)
