"""The pipeline: a job in, a plan out."""

import itertools
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace

from nesting import __version__
from nesting.artwork.prepare import marking_name, prepare_markings
from nesting.costing import cost_of, least_mark_seconds
from nesting.fixture.focus import refocused
from nesting.fixture.notch import add_notches
from nesting.fixture.pocket import make_pockets
from nesting.fixture.sheet_marks import marks_seconds, sheet_marks
from nesting.fixture.strength import require_webs
from nesting.geometry.contour import Contour
from nesting.geometry.offset import offset
from nesting.job.job import Job, KeptSheet, Machine, MarkSetting, Stock
from nesting.packing.choice import pack
from nesting.packing.clock import CLOCK
from nesting.packing.loads import plan_sheets
from nesting.packing.sheet_plan import AssignedLoad, PlacedSheet, SheetPlan
from nesting.packing.stop import Stop
from nesting.packing.working_order import assign_units
from nesting.plan_values import CutSheet, Filling, Load, Marking, Path, Plan, Pocket
from nesting.progress import Listener, Progress, silent
from nesting.routing.cut import cut_path
from nesting.routing.cut import numbered_seconds as numbered_cut_seconds
from nesting.routing.directions import Marked, Sweeping, arrange_units, choose_directions, marked
from nesting.routing.exchange import exchange_units, exchangeable, moved
from nesting.routing.layouts import lay_out_for_time, visiting_seconds
from nesting.routing.mark import mark_path, numbered_seconds
from nesting.routing.trace import marks_trace, outline_trace
from nesting.warn import warnings_for

SETTLING_SHARE = 0.3
"""Share of what packing left that is spent at the most on what is settled before ordering the marks."""

EXCHANGES = 3
"""How often units are exchanged for a shorter way at the most."""

LEAST_SETTLING = 2.0
"""Seconds or units of effort for it, even where packing used up more than its share."""

NO_PATH = Path((), 0.0, 0.0, 0.0, 0.0, 0.0)
"""Of a sheet that is not cut."""

Contents = tuple[str, tuple[tuple[int, str, float], ...]]
"""A sheet's name, and the pockets that are filled with their markings and focus heights."""

COMPILING = "compiling, once on this machine"
"""What a plan does while the clock of its search stands still."""

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
        Wall-clock limit for the search; 60 if neither it nor `effort` is given. What the search compiles
        the first time on a machine, some 10 to 25 s, does not count.
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
    markings, across = ({m.name: m for m in prepare_markings(job, angle)} for angle in (0.0, 90.0))
    packed = _packed(job, stop, seed, progress)
    router = _Router(job, markings, stop, seed, progress)
    plain = router.plain_seconds(packed)
    packed, saved = router.lay_out(packed, across)
    pockets = [_pockets(job, placed) for placed in packed.sheets]
    assigned = assign_units(job, packed, pockets)
    router.paths = sum(placed.kept is None for placed in packed.sheets) + len(assigned)
    names = _names(job, packed.sheets)
    sheets = [router.sheet(*each) for each in zip(names, packed.sheets, pockets, strict=True)]
    cut, kept = (
        tuple(s for s, p in zip(sheets, packed.sheets, strict=True) if (p.kept is None) is new)
        for new in (True, False)
    )
    settled = router.settle(assigned, sheets, across)
    loads = [router.load(k, load, sheets[load.sheet]) for k, load in enumerate(settled, start=1)]
    return Plan(
        job=replace(job, kept=tuple(_used(job, kept))),
        sheets=cut,
        loads=tuple(loads),
        markings=tuple(router.markings.values()),
        unplaced=packed.unplaced,
        bound=packed.bound,
        proven=packed.proven,
        bound_reason=packed.reason,
        explanation=packed.explanation,
        warnings=warnings_for(job, cut, loads, tuple(router.markings.values()), kept),
        seed=seed,
        made_by=f"nesting-optimiser {__version__}",
        plain_seconds=plain + sum(sheet.marks_seconds for sheet in cut),
        layout_saving=saved,
        kept=kept,
        loads_bound=packed.loads_bound,
        loads_reason=packed.loads_reason,
        cost=cost_of(job, packed, cut, loads, least_mark_seconds((markings, across), router.settings)),
    )


def sheet_name(index: int) -> str:
    """Name sheets A to Z, then AA and so on.

    >>> sheet_name(0), sheet_name(25), sheet_name(26)
    ('A', 'Z', 'AA')
    """
    letter = chr(ord("A") + index % 26)
    return letter if index < 26 else sheet_name(index // 26 - 1) + letter


def _names(job: Job, sheets: Sequence[PlacedSheet]) -> Iterator[str]:
    """Name sheets: to cut with letters, kept ones as they are called, with a letter for each further way."""
    taken = {kept.name for kept in job.kept}
    letters = (name for name in map(sheet_name, itertools.count()) if name not in taken)
    ways: Counter[str] = Counter()
    for placed in sheets:
        if placed.kept is None:
            yield next(letters)
        else:
            ways[placed.kept.name] += 1
            way = ways[placed.kept.name]
            yield placed.kept.name + (f"-{way}" if way > 1 else "")


def _used(job: Job, sheets: Sequence[CutSheet]) -> Iterator[KeptSheet]:
    """Yield the kept sheets that a plan uses."""
    names = {sheet.stock for sheet in sheets}
    return (kept for kept in job.kept if kept.name in names)


def home(machine: Machine, width: float, height: float) -> tuple[float, float]:
    """Find the corner of a sheet, `width` x `height` mm, that lies at the machine's origin.

    >>> home(Machine(600, 400, origin="back left"), 300, 200)
    (0.0, 200)
    """
    return (width if "right" in machine.origin else 0.0, height if "back" in machine.origin else 0.0)


def _packed(job: Job, stop: Stop, seed: int, progress: Listener) -> SheetPlan:
    def tell(best: str, stage: str = "packing") -> None:
        progress(Progress(stage, min(stop.share_used, PACKING_SHARE), best))

    part = stop.part(PACKING_SHARE)
    tell("")
    with CLOCK.telling(lambda halted: tell("", COMPILING if halted else "packing")):
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
    """Make the pockets of a sheet to cut; of a kept one, take over those that are there."""
    if placed.kept is not None:
        return _kept_pockets(placed.kept, placed)
    blanks = {blank.name: blank for blank in job.blanks}
    kerf = job.machine.kerf[placed.stock.material]
    plain = make_pockets(blanks, placed.placements, kerf, placed.stock.thickness)
    pockets = add_notches(plain, blanks, kerf, job.web, placed.stock)
    require_webs(pockets, placed.stock, job.web)
    return pockets


def _kept_pockets(sheet: KeptSheet, placed: PlacedSheet) -> tuple[Pocket, ...]:
    there = {pocket.number: pocket for pocket in sheet.pockets}
    return tuple(
        Pocket(number, p.item, p.x, p.y, p.turn, there[number].outline, (), there[number].notches)
        for number, p in zip(placed.numbers, placed.placements, strict=True)
    )


def _cut_out(stock: Stock, machine: Machine) -> tuple[Contour, ...]:
    """Make the paths of the beam that cut out a sheet, the kerf taken off."""
    return tuple(region.outer for region in offset(stock.region, machine.kerf[stock.material] / 2))


def _with_marks(sheet: CutSheet, stock: Stock, job: Job, origin: tuple[float, float]) -> CutSheet:
    """Add what is marked on the sheet itself."""
    wanted = job.sheet_marks
    if wanted is None:
        return sheet
    marks = sheet_marks(sheet.pockets, stock, wanted, origin)
    setting = next(setting for setting in job.settings if setting.name == wanted.setting)
    return replace(sheet, marks=marks, marks_seconds=marks_seconds(marks, setting, job.machine, origin))


class _Router:
    """Orders the paths of one sheet or load after the other, each with a fair share of what time is left."""

    def __init__(
        self,
        job: Job,
        markings: dict[str, Marking],
        stop: Stop,
        seed: int,
        progress: Listener,
    ) -> None:
        self.job, self.markings, self.stop, self.seed = job, markings, stop, seed
        self.progress, self.paths, self.done = progress, 0, 0
        settings = {setting.name: setting for setting in job.settings}
        self.settings: dict[str, MarkSetting] = {blank.name: settings[blank.setting] for blank in job.blanks}
        artworks = {artwork.name: artwork for artwork in job.artworks}
        self.marking_of = {order.name: marking_name(order, artworks) for order in job.orders}
        self.blank_of = {order.name: order.blank for order in job.orders}
        self.homes: dict[str, tuple[float, float]] = {}
        self.marked: dict[Contents, tuple[dict[int, str], Path]] = {}

    def sheet(self, name: str, placed: PlacedSheet, pockets: Sequence[Pocket]) -> CutSheet:
        """Order the cuts of a sheet; a kept one has none."""
        stock, machine = placed.stock, self.job.machine
        self.homes[name] = home(machine, stock.width, stock.height)
        trace = outline_trace(stock.region, machine, self.homes[name])
        areas = {blank.name: blank.footprint.area for blank in self.job.blanks}
        fill = sum(areas[pocket.blank] for pocket in pockets) / stock.region.area
        if placed.kept is not None:
            numbered = tuple(sorted(pockets, key=lambda pocket: pocket.number))
            return CutSheet(name, placed.kept.name, numbered, NO_PATH, fill, trace=trace)
        part = self._part(f"ordering the cuts of sheet {name}")
        cut = cut_path(
            pockets,
            machine,
            sheet=stock.region,
            outline=_cut_out(stock, machine) if stock.cut_out else (),
            start=self.homes[name],
            stop=part,
            seed=self.seed,
        )
        self.stop.spend(part.spent)
        cut_sheet = CutSheet(name, stock.name, cut.pockets, cut.path, fill, cut.outline, trace)
        return _with_marks(cut_sheet, stock, self.job, self.homes[name])

    def plain_seconds(self, packed: SheetPlan) -> float:
        """Time for a plan as it is before anything is chosen to save time."""
        machine, total = self.job.machine, 0.0
        pockets = [_pockets(self.job, placed) for placed in packed.sheets]
        sheets = []
        for number, placed in enumerate(packed.sheets):
            stock, here = placed.stock, pockets[number]
            start = home(machine, stock.width, stock.height)
            outline = _cut_out(stock, machine) if stock.cut_out else ()
            if placed.kept is None:
                total += numbered_cut_seconds(here, outline, machine, start)
            sheets.append((CutSheet("", stock.name, here, NO_PATH, 0), start))
        for load in assign_units(self.job, packed, pockets):
            sheet, start = sheets[load.sheet]
            total += numbered_seconds(
                self._fillings(load), sheet, self.markings, self._speeds, machine, start
            )
        return total

    def lay_out(self, packed: SheetPlan, across: dict[str, Marking]) -> tuple[SheetPlan, float]:
        """Choose among layouts with equal sheets and loads by the machine time they take."""
        machine = self.job.machine
        ways = [Sweeping(m, self.settings, machine) for m in (self.markings, across)]
        part = self.stop.part(SETTLING_SHARE, LEAST_SETTLING)

        def seconds(plan: SheetPlan) -> float:
            pockets = [{p.number: p for p in _pockets(self.job, placed)} for placed in plan.sheets]
            homes = [home(machine, placed.stock.width, placed.stock.height) for placed in plan.sheets]
            total = 0.0
            for there, start, placed in zip(pockets, homes, plan.sheets, strict=True):
                if placed.kept is not None:
                    continue
                total += visiting_seconds([(p.x, p.y) for p in there.values()], machine, start, part)
            contents: Counter[tuple[int, tuple[Marked, ...]]] = Counter()
            for load in assign_units(self.job, plan, [list(there.values()) for there in pockets]):
                contents[load.sheet, tuple(marked(load.units, pockets[load.sheet], self.marking_of))] += 1
            for (sheet, units), count in contents.items():
                places = [place[:2] for place, _ in units]
                once = visiting_seconds(places, machine, homes[sheet], part)
                total += count * (once + min(sweeping.seconds(units, part) for sweeping in ways))
            return total

        plan, saved = lay_out_for_time(self.job, packed, seconds, pack, part, self.seed)
        self.stop.spend(part.spent)
        return plan, saved

    def settle(
        self, loads: Sequence[AssignedLoad], sheets: Sequence[CutSheet], across: dict[str, Marking]
    ) -> list[AssignedLoad]:
        """Choose how fills run and which unit lies where, before the marks are put in order."""
        pockets = [{pocket.number: pocket for pocket in sheet.pockets} for sheet in sheets]
        contents = [marked(load.units, pockets[load.sheet], self.marking_of) for load in loads]
        sweeping = Sweeping(self.markings, self.settings, self.job.machine)
        part = self.stop.part(SETTLING_SHARE, LEAST_SETTLING)
        self.markings = choose_directions(contents, sweeping, across, part)
        sweeping = Sweeping(self.markings, self.settings, self.job.machine)
        settled = [
            arrange_units(load, pockets[load.sheet], self.marking_of, sweeping, part) for load in loads
        ]
        self.stop.spend(part.spent)
        distinct = {self._contents(self._fillings(load), sheets[load.sheet]) for load in settled}
        self.paths = self.done + len(distinct)
        return settled

    def load(self, number: int, load: AssignedLoad, sheet: CutSheet) -> Load:
        """Order the marks of a load; loads alike share their path."""
        fillings = self._fillings(load)
        contents = self._contents(fillings, sheet)
        pockets = {pocket.number: pocket for pocket in sheet.pockets}
        if contents not in self.marked:
            part = self._part(f"ordering the marks of load {number}")
            arranged, path = self._arranged(fillings, pockets, sheet, part)
            self.marked[contents] = {f.pocket: f.marking for f in arranged if f.marking is not None}, path
            self.stop.spend(part.spent)
        marked, path = self.marked[contents]
        fillings = moved(fillings, pockets, marked)
        trace = marks_trace(fillings, pockets, self.markings, self.job.machine, self.homes[sheet.name])
        height = refocused(self.job, load.focus_height, fillings, self.markings)
        return Load(number, sheet.name, height, fillings, path, trace)

    def _arranged(
        self, fillings: Sequence[Filling], pockets: Mapping[int, Pocket], sheet: CutSheet, stop: Stop
    ) -> tuple[Sequence[Filling], Path]:
        """Order marks, and exchange units of one blank as long as that makes the path shorter."""
        start, tries = self.homes[sheet.name], EXCHANGES if exchangeable(fillings, pockets) else 0

        def over() -> bool:
            # with a limit of effort every load gets the same
            return stop.cancelled() or (stop.seconds is not None and stop.reached)

        path = self._path(fillings, sheet, stop, 1 / (1 + tries))
        for left in range(tries, 0, -1):
            other = exchange_units(
                fillings, pockets, self.markings, path, self.job.machine, start, self.seed, over
            )
            if other is None:
                break
            found = self._path(other, sheet, stop, 1 / left)
            if found.seconds >= path.seconds:
                break
            fillings, path = other, found
        return fillings, path

    def _path(self, fillings: Sequence[Filling], sheet: CutSheet, stop: Stop, share: float) -> Path:
        part = stop.part(share)
        path = mark_path(
            fillings,
            sheet,
            self.markings,
            self._speeds,
            self.job.machine,
            start=self.homes[sheet.name],
            stop=part,
            seed=self.seed,
        )
        stop.spend(part.spent)
        return path

    def _fillings(self, load: AssignedLoad) -> tuple[Filling, ...]:
        heights = {blank: height for blank, height in load.heights if height != load.focus_height}
        return tuple(
            Filling(pocket, unit, self.marking_of[unit.line], heights.get(self.blank_of[unit.line]))
            for pocket, unit in load.units
        )

    @staticmethod
    def _contents(fillings: Sequence[Filling], sheet: CutSheet) -> Contents:
        return sheet.name, tuple(sorted((f.pocket, f.marking or "", f.focus_height or 0.0) for f in fillings))

    @property
    def _speeds(self) -> dict[str, MarkSetting]:
        return {name: self.settings[marking.blank] for name, marking in self.markings.items()}

    def _part(self, stage: str) -> Stop:
        share = self.done / self.paths
        self.progress(Progress(stage, PACKING_SHARE + (1 - PACKING_SHARE) * share))
        part = self.stop.part(1 / (self.paths - self.done))
        self.done += 1
        return part
