"""The pipeline: a job in, a plan out."""

from collections.abc import Callable, Sequence

from nesting import __version__
from nesting.artwork.prepare import marking_name, prepare_markings
from nesting.fixture.pocket import make_pockets
from nesting.job.job import Job, Machine, MarkSetting
from nesting.packing.choice import pack
from nesting.packing.loads import assign_units, plan_sheets
from nesting.packing.sheet_plan import AssignedLoad, PlacedSheet, SheetPlan
from nesting.packing.stop import Stop
from nesting.plan_values import CutSheet, Filling, Load, Marking, Plan, Pocket
from nesting.progress import Listener, Progress, silent
from nesting.routing.cut import cut_path
from nesting.routing.mark import mark_path
from nesting.warn import warnings_for

PACKING_SHARE = 0.7
"""Share of the time that packing gets at the most; ordering the paths gets the rest."""


def make_plan(
    job: Job,
    *,
    seconds: float | None = None,
    effort: float | None = None,
    seed: int = 1,
    progress: Listener = silent,
    cancelled: Callable[[], bool] = bool,
) -> Plan:
    """Plan a job: sheets to cut, loads to mark, every path in order.

    Parameters
    ----------
    seconds
        Wall-clock limit for the search; 60 if neither it nor `effort` is given.
    effort
        The reproducible alternative: the same job, seed and effort give the same plan anywhere.
    seed
        Start of the random numbers.
    progress
        Told how far the plan is.
    cancelled
        Asked now and then; answering True ends the search with the best found so far.

    Raises
    ------
    nesting.errors.InputError
        With everything that stands in the way: artwork that does not fit its mark area, a pocket too
        narrow for the kerf.
    """
    if seconds is None and effort is None:
        seconds = 60.0
    stop = Stop(seconds, effort, cancelled)
    progress(Progress("preparing artwork", 0.0))
    markings = {marking.name: marking for marking in prepare_markings(job)}
    packed = _packed(job, stop, seed, progress)
    pockets = [_pockets(job, placed) for placed in packed.sheets]
    assigned = assign_units(job, packed, pockets)
    router = _Router(job, markings, stop, seed, progress, len(pockets) + len(assigned))
    sheets = [router.sheet(k, *pair) for k, pair in enumerate(zip(packed.sheets, pockets, strict=True))]
    loads = [router.load(k, load, sheets[load.sheet]) for k, load in enumerate(assigned, start=1)]
    return Plan(
        job=job,
        sheets=tuple(sheets),
        loads=tuple(loads),
        markings=tuple(markings.values()),
        unplaced=packed.unplaced,
        bound=packed.bound,
        proven=packed.proven,
        bound_reason=packed.reason,
        explanation=packed.explanation,
        warnings=warnings_for(job, sheets, loads),
        seed=seed,
        made_by=f"nesting-optimiser {__version__}",
    )


def sheet_name(index: int) -> str:
    """Name sheets A to Z, then AA and so on.

    >>> sheet_name(0), sheet_name(25), sheet_name(26)
    ('A', 'Z', 'AA')
    """
    letter = chr(ord("A") + index % 26)
    return letter if index < 26 else sheet_name(index // 26 - 1) + letter


def home(machine: Machine, width: float, height: float) -> tuple[float, float]:
    """Find the corner of a sheet, `width` x `height` mm, that lies at the machine's origin.

    >>> home(Machine(600, 400, origin="back left"), 300, 200)
    (0.0, 200)
    """
    return (width if "right" in machine.origin else 0.0, height if "back" in machine.origin else 0.0)


def _packed(job: Job, stop: Stop, seed: int, progress: Listener) -> SheetPlan:
    def tell(best: str) -> None:
        progress(Progress("packing", min(stop.share_used, PACKING_SHARE), best))

    part = stop.part(PACKING_SHARE)
    tell("")
    packed = plan_sheets(
        job,
        pack=pack,
        seconds=part.seconds,
        effort=part.effort,
        seed=seed,
        progress=tell,
        cancelled=stop.cancelled,
    )
    stop.spend(part.effort or 0.0)
    return packed


def _pockets(job: Job, placed: PlacedSheet) -> tuple[Pocket, ...]:
    blanks = {blank.name: blank for blank in job.blanks}
    return make_pockets(blanks, placed.placements, job.machine.kerf[placed.stock.material])


class _Router:
    """Orders the paths of one sheet or load after the other, each with a fair share of what time is left."""

    def __init__(
        self,
        job: Job,
        markings: dict[str, Marking],
        stop: Stop,
        seed: int,
        progress: Listener,
        paths: int,
    ) -> None:
        self.job, self.markings, self.stop, self.seed = job, markings, stop, seed
        self.progress, self.paths, self.done = progress, paths, 0
        settings = {setting.name: setting for setting in job.settings}
        self.settings: dict[str, MarkSetting] = {blank.name: settings[blank.setting] for blank in job.blanks}
        artworks = {artwork.name: artwork for artwork in job.artworks}
        self.marking_of = {order.name: marking_name(order, artworks) for order in job.orders}
        self.homes: dict[str, tuple[float, float]] = {}

    def sheet(self, index: int, placed: PlacedSheet, pockets: Sequence[Pocket]) -> CutSheet:
        """Order the cuts of a sheet."""
        name, stock, machine = sheet_name(index), placed.stock, self.job.machine
        self.homes[name] = home(machine, stock.width, stock.height)
        part = self._part(f"ordering the cuts of sheet {name}")
        path = cut_path(pockets, machine, start=self.homes[name], stop=part, seed=self.seed)
        self.stop.spend(part.spent)
        areas = {blank.name: blank.footprint.area for blank in self.job.blanks}
        fill = sum(areas[pocket.blank] for pocket in pockets) / stock.region.area
        return CutSheet(name, stock.name, tuple(pockets), path, fill)

    def load(self, number: int, load: AssignedLoad, sheet: CutSheet) -> Load:
        """Order the marks of a load."""
        part = self._part(f"ordering the marks of load {number}")
        fillings = tuple(Filling(pocket, unit, self.marking_of[unit.line]) for pocket, unit in load.units)
        settings = {name: self.settings[marking.blank] for name, marking in self.markings.items()}
        path = mark_path(
            fillings,
            sheet,
            self.markings,
            settings,
            self.job.machine,
            start=self.homes[sheet.name],
            stop=part,
            seed=self.seed,
        )
        self.stop.spend(part.spent)
        return Load(number, sheet.name, load.focus_height, fillings, path)

    def _part(self, stage: str) -> Stop:
        share = self.done / self.paths
        self.progress(Progress(stage, PACKING_SHARE + (1 - PACKING_SHARE) * share))
        part = self.stop.part(1 / (self.paths - self.done))
        self.done += 1
        return part
