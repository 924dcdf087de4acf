"""What a plan consists of: immutable values, the same in memory and in ``plan.json``."""

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

from nesting.geometry.contour import Contour
from nesting.geometry.drawing import FillRule
from nesting.geometry.region import Region
from nesting.job.job import Job, OrderLine
from nesting.picture import Drawn, joint_bounds, sheets_svg, table_html

PLAN_VERSION = 5
"""Raised when ``plan.json`` changes its shape; `nesting.plan_versions` then learns the step from the last."""


@dataclass(frozen=True)
class Step:
    """One stretch of a path: a part of a pocket's cut or of its unit's marking.

    Attributes
    ----------
    pocket
        The pocket's number on its sheet; 0 for the sheet's own outline.
    part
        Index into the pocket's `path` contours, or into its marking's `parts`.
    start
        For a closed contour, the vertex where the beam goes on.
    backwards
        Whether the part is run from its end to its start.
    joined
        Whether the part is swept together with the step before it, row by row across both: see
        `nesting.routing.rows`. All steps of such a stretch have the same `backwards`.
    lead
        Where the beam goes on, for a cut that begins in the waste: from there it runs straight to its
        start.
    wait
        Seconds the head waits before the beam goes on, for neighbours to cool or to be focused anew.
    """

    pocket: int
    part: int
    start: int = 0
    backwards: bool = False
    joined: bool = False
    lead: tuple[float, float] | None = None
    wait: float = 0.0


@dataclass(frozen=True)
class Times:
    """What the seconds of a path are spent on (estimates).

    >>> (Times(cut=2, travel=1) + Times(cut=1, wait=0.5)).total
    4.5
    """

    cut: float = 0.0
    mark: float = 0.0
    sweep: float = 0.0
    travel: float = 0.0
    wait: float = 0.0

    @property
    def total(self) -> float:
        """All of it."""
        return self.cut + self.mark + self.sweep + self.travel + self.wait

    def __add__(self, other: "Times") -> "Times":
        return Times(
            self.cut + other.cut,
            self.mark + other.mark,
            self.sweep + other.sweep,
            self.travel + other.travel,
            self.wait + other.wait,
        )


@dataclass(frozen=True)
class Trace:
    """A closed line to be followed with the beam off, to see where a sheet or its marks will lie.

    From the origin corner to the first point, on through the others and back to the first.
    """

    points: tuple[tuple[float, float], ...] = ()
    seconds: float = 0.0


@dataclass(frozen=True)
class Path:
    """An order of steps; lengths in mm, times in s (estimates).

    Attributes
    ----------
    steps
        Every part once.
    travel
        Beam-off distance, from the origin corner to the first step and so on to the end of the last.
    numbered_travel
        The same for the pockets in the order of their numbers and parts as drawn, for comparison.
    beam
        Beam-on distance.
    seconds
        Time for the path.
    numbered_seconds
        Time in numbered order, every unit by itself.
    times
        What `seconds` is spent on.
    bound
        No order, and no choice of ways to run the steps, takes less than this many seconds.
    """

    steps: tuple[Step, ...]
    travel: float
    numbered_travel: float
    beam: float
    seconds: float
    numbered_seconds: float
    times: Times = Times()
    bound: float = 0.0

    @property
    def proven(self) -> bool:
        """Whether no order takes less time."""
        return self.bound >= self.seconds * (1 - 1e-9)


Disc = tuple[float, float, float]
"""Middle x, y and diameter in mm."""


@dataclass(frozen=True)
class Pocket:
    """A pocket of a sheet.

    Attributes
    ----------
    number
        From 1, in reading order on its sheet.
    blank
        Name of the blank it takes.
    x, y, turn
        Where that blank lies: its footprint turned round its own (0, 0), then shifted (mm, degrees).
    outline
        The finished hole, in sheet coordinates: the seat grown by the clearance, and the notches.
    path
        Centre lines of the beam that leave that hole, the kerf taken off, in cutting order.
    notches
        Discs that the hole takes in: corner relief, then finger notches; in sheet coordinates.
    """

    number: int
    blank: str
    x: float
    y: float
    turn: float
    outline: Region
    path: tuple[Contour, ...]
    notches: tuple[Disc, ...] = ()


@dataclass(frozen=True)
class SheetMark:
    """A mark on the sheet itself: lines to follow; `pocket` is 0 for one that belongs to the whole sheet.

    Of an ``"arrow"`` the first line is the shaft, from its tail to its tip.
    """

    kind: Literal["number", "arrow", "fiducial", "corner"]
    pocket: int
    lines: tuple[Contour, ...]


@dataclass(frozen=True)
class CutSheet:
    """One sheet to be cut; `name` is a letter, `stock` names its entry in the job.

    `outline_path` are centre lines of the beam that cut the sheet itself out of a larger board, if the
    stock says so; in steps its pocket is 0. `trace` leads round the sheet.
    `marks` are made on the sheet before it is cut, in running order; they take `marks_seconds`.
    """

    name: str
    stock: str
    pockets: tuple[Pocket, ...]
    cut_path: Path
    fill: float
    outline_path: tuple[Contour, ...] = ()
    trace: Trace = Trace()
    marks: tuple[SheetMark, ...] = ()
    marks_seconds: float = 0.0

    def _repr_svg_(self) -> str:
        """Show the pockets, numbered, in a notebook."""
        x0, y0, x1, y1 = joint_bounds([pocket.outline for pocket in self.pockets])
        return sheets_svg([self.drawn(Region.rectangle(x1 - x0, y1 - y0).moved(x0, y0))])

    def drawn(self, outline: Region) -> Drawn:
        """Describe this sheet's drawing within an outline."""
        regions = tuple((pocket.outline, str(pocket.number)) for pocket in self.pockets)
        return Drawn(f"Sheet {self.name}: {len(self.pockets)} pockets in {self.stock}", outline, regions)


@dataclass(frozen=True)
class Part:
    """What the beam marks in one go, in blank coordinates.

    Attributes
    ----------
    kind
        ``"line"`` follows its one contour; ``"fill"`` sweeps the inside of its contours; ``"dots"``
        sweeps rows of a picture.
    contours
        The contour to follow, the outlines of the area to fill, or the frame of the picture.
    rule
        What is inside, for a fill.
    sweeps
        Beam-on stretches ``(x0, y0, x1, y1)`` of a fill or of dots in running order.
    """

    kind: Literal["line", "fill", "dots"]
    contours: tuple[Contour, ...]
    rule: FillRule = "nonzero"
    sweeps: tuple[tuple[float, float, float, float], ...] = ()


@dataclass(frozen=True)
class Placed:
    """One artwork where it lies on a kind of blank.

    The artwork's drawing is mirrored in the y axis if `mirrored`, scaled by `scale`, turned by `turn`
    degrees round (0, 0) and shifted by (x, y) mm into the blank's coordinates; `parts` are the result.
    `text` is what is written, for a lettering. If it is `wrapped`, all that is measured along the surface
    of a body, laid flat (`nesting.body.unrolled`), and `parts` are what the beam sees of it from above.
    """

    artwork: str
    scale: float
    turn: float
    x: float
    y: float
    parts: tuple[Part, ...]
    mirrored: bool = False
    text: str | None = None
    wrapped: bool = False


@dataclass(frozen=True)
class Marking:
    """Everything that is marked on a unit of a kind of blank: prepared once, used by every unit alike."""

    name: str
    blank: str
    placed: tuple[Placed, ...]

    @cached_property
    def parts(self) -> tuple[Part, ...]:
        """The parts of all its artworks, one artwork after the other."""
        return tuple(part for placed in self.placed for part in placed.parts)

    @property
    def artworks(self) -> tuple[str, ...]:
        """Names of its artworks."""
        return tuple(placed.artwork for placed in self.placed)


@dataclass(frozen=True)
class Unit:
    """One physical blank: the `number`-th, from 1, of an order line."""

    line: str
    number: int


@dataclass(frozen=True)
class Filling:
    """A unit in a pocket with its marking (None: nothing is marked on it).

    `focus_height` is that of a unit which the machine refocuses for, in mm above the bed; None for those
    marked first, at the focus height of the load.
    """

    pocket: int
    unit: Unit
    marking: str | None
    focus_height: float | None = None


@dataclass(frozen=True)
class Load:
    """One filling of a sheet, marked in one go, beginning at a focus height (mm above the bed).

    `trace` leads round what is marked.
    """

    number: int
    sheet: str
    focus_height: float
    fillings: tuple[Filling, ...]
    mark_path: Path
    trace: Trace = Trace()

    @property
    def focus_heights(self) -> tuple[float, ...]:
        """Every focus height, in the order in which they are used."""
        return tuple(sorted({self.focus_height, *(self.focus_of(filling) for filling in self.fillings)}))

    def focus_of(self, filling: Filling) -> float:
        """Give the focus height for one of its units."""
        return self.focus_height if filling.focus_height is None else filling.focus_height

    def _repr_html_(self) -> str:
        """Show what lies in which pocket as a table, in a notebook."""
        rows = [(filling.pocket, filling.unit.line, filling.unit.number) for filling in self.fillings]
        return table_html(f"Load {self.number} on sheet {self.sheet}", ["Pocket", "Order line", "Unit"], rows)


@dataclass(frozen=True)
class Cost:
    """What a plan costs by the job's costs, in their currency; what takes time is an estimate.

    Attributes
    ----------
    stock, setting_up, cutting, loading, machine
        The sheets' own cost, setting them up, minutes of cutting, loads, and minutes of the machine.
    bound, reason
        No plan for as many units costs less than `bound`, which is put together from what `reason` says.

    >>> cost = Cost(stock=8.0, loading=2.0).with_bound(12.5)
    >>> cost.total, cost.bound, cost.proven
    (10.0, 10.0, True)
    """

    stock: float = 0.0
    setting_up: float = 0.0
    cutting: float = 0.0
    loading: float = 0.0
    machine: float = 0.0
    bound: float = 0.0
    reason: str = ""

    @property
    def total(self) -> float:
        """All of it."""
        return self.stock + self.setting_up + self.cutting + self.loading + self.machine

    @property
    def proven(self) -> bool:
        """Whether no plan costs less."""
        return self.bound >= self.total * (1 - 1e-9)

    def with_bound(self, bound: float) -> "Cost":
        """Limit it, not above what it is: what only rounding puts above it is proven."""
        return replace(self, bound=min(bound, self.total))


@dataclass(frozen=True)
class Plan:
    """The whole answer: what to cut, what to load, what to mark, in which order.

    Attributes
    ----------
    job
        What was asked, as it was understood.
    sheets, loads
        Sheets to cut, and all loads, in working order.
    markings
        The markings that the loads name.
    unplaced
        Order lines with the quantity that found no place.
    bound, proven, bound_reason
        No plan cuts fewer sheets than `bound`; `proven` if this one cuts as many.
    loads_bound, loads_reason
        No plan that cuts as few sheets has fewer loads than `loads_bound`, because of `loads_reason`; with
        the job's costs, no plan at all. 0 if nothing is known.
    cost
        What it costs, where the job says what things cost.
    explanation
        How the layouts were found.
    warnings
        What the operator should know, each a sentence.
    seed, version
        What made it.
    plain_seconds
        Time for the same units in numbered order, every one by itself and as drawn, its fills swept
        along x (an estimate): what `machine_seconds` is to be compared with. 0 if it was not worked out.
    layout_saving
        What the choice among layouts with equal sheets and loads saves of it, in s (an estimate).
    kept
        Kept sheets that are loaded again, in working order: as they are filled here, with those of their
        pockets that take something, and nothing to cut. Their `stock` names the entry in `job.kept`;
        one that is filled in several ways is here once for each.
    """

    job: Job
    sheets: tuple[CutSheet, ...]
    loads: tuple[Load, ...]
    markings: tuple[Marking, ...]
    unplaced: tuple[tuple[str, int], ...]
    bound: int
    proven: bool
    bound_reason: str
    explanation: str
    warnings: tuple[str, ...]
    seed: int
    made_by: str
    version: int = PLAN_VERSION
    plain_seconds: float = 0.0
    layout_saving: float = 0.0
    kept: tuple[CutSheet, ...] = ()
    loads_bound: int = 0
    loads_reason: str = ""
    cost: Cost | None = None

    @property
    def loads_proven(self) -> bool:
        """Whether no plan that cuts as few sheets has fewer loads."""
        return self.loads_bound >= len(self.loads) and not self.unplaced

    @property
    def all_sheets(self) -> tuple[CutSheet, ...]:
        """Every sheet that is loaded: kept ones, then those to cut."""
        return (*self.kept, *self.sheets)

    @property
    def machine_seconds(self) -> float:
        """Time to cut all sheets and to mark all loads (an estimate)."""
        cuts = sum(sheet.cut_path.seconds + sheet.marks_seconds for sheet in self.sheets)
        return cuts + sum(load.mark_path.seconds for load in self.loads)

    def _repr_svg_(self) -> str:
        """Show the sheets in a notebook."""
        stocks = self.job.all_stock
        return sheets_svg([sheet.drawn(stocks[sheet.stock].region) for sheet in self.all_sheets])

    def drawn_load(self, number: int) -> Drawn:
        """Describe the drawing of a load: its blanks with their pockets' numbers, and what is marked.

        A notebook shows it.

        Raises
        ------
        KeyError
            If no load has that number.
        """
        load = {load.number: load for load in self.loads}[number]
        sheet = self.sheet(load.sheet)
        pockets = {pocket.number: pocket for pocket in sheet.pockets}
        footprints = {blank.name: blank.footprint for blank in self.job.blanks}
        blanks, lines = [], []
        for filling in load.fillings:
            pocket = pockets[filling.pocket]
            place = (pocket.x, pocket.y, pocket.turn)
            blanks.append((footprints[pocket.blank].moved(*place), str(pocket.number)))
            parts = self.marking(filling.marking).parts if filling.marking is not None else ()
            lines += [contour.moved(*place) for part in parts for contour in part.contours]
        outline = self.job.all_stock[sheet.stock].region
        return Drawn(f"Load {number} on sheet {sheet.name}", outline, tuple(blanks), tuple(lines))

    def sheet(self, name: str) -> CutSheet:
        """Find a sheet by its name."""
        return next(sheet for sheet in self.all_sheets if sheet.name == name)

    def marking(self, name: str) -> Marking:
        """Find a marking by its name."""
        return next(marking for marking in self.markings if marking.name == name)

    def order(self, name: str) -> OrderLine:
        """Find an order line by its name."""
        return next(order for order in self.job.orders if order.name == name)
