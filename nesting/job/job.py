"""What a job means, after reading: lengths in mm, files resolved, every name known."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from typing import Literal

from nesting.body.lens import Lens
from nesting.body.solid import Solid
from nesting.geometry.drawing import Drawing
from nesting.geometry.font import Font
from nesting.geometry.picture import Picture
from nesting.geometry.region import Region
from nesting.job.kinematics import JUNCTION_DEVIATION_MM, Kinematics, PerAxis

Corner = Literal["front left", "front right", "back left", "back right"]
Align = Literal["left", "centre", "right"]
AlignUp = Literal["bottom", "middle", "top"]
Fit = Literal["inside", "fill", "shrink", "size", "true"]
Dither = Literal["threshold", "diffusion", "ordered"]
HatchPattern = Literal["lines", "rings"]
OptionValue = bool | int | float | str | tuple[str | int | float, ...]
"""What an option of a plug-in may hold, in a job document, in ``plan.json`` and on the command line."""
InLoad = Literal["setting", "finish", "customer"]

UNSTATED_DEPTH_MM = 1.0
"""Depth of focus of a machine whose lens is not stated; common practice, no source."""

MOST_INCIDENCE_DEG = 30.0
"""Angle between beam and surface normal beyond which marks get faint; common practice, no source."""


@dataclass(frozen=True)
class MarkSetting:
    """How the beam marks: `speed` in mm/s, `interval` between sweeps of a fill in mm, `power` in %."""

    name: str
    speed: float = 300.0
    interval: float = 0.1
    power: float | None = None
    passes: int = 1


@dataclass(frozen=True)
class Refocus:
    """What it takes the machine to focus at another height within a load.

    Attributes
    ----------
    seconds
        How long it takes.
    range
        Heights of blanks that share a load may differ by this many mm: as far as the head stays clear of
        the highest while it is in focus for the lowest.
    """

    seconds: float
    range: float


@dataclass(frozen=True)
class Machine:
    """The machine: bed in mm, speeds in mm/s, acceleration in mm/s², kerf in mm by material.

    Without a lens the depth of focus counts as `UNSTATED_DEPTH_MM`.

    Attributes
    ----------
    beam_on_delay, beam_off_delay
        Seconds the head stands at the start and at the end of every line, cut or marked.
    pierce_time
        Seconds the beam stands before a cut begins.
    lead_in
        Length in mm of the first stretch of a cut, in the waste; 0 for none.
    heat_distance, heat_time
        For `heat_time` seconds after a cut nothing nearer to it than `heat_distance` mm is cut.
    thin_web
        Contours that leave a web of less than this many mm are cut after all others.
    refocus
        None for a machine that cannot refocus within a load.
    axis_speeds, axis_accelerations, junction_deviation, velocity_jump
        See `nesting.job.kinematics.Kinematics`.
    """

    bed_width: float
    bed_height: float
    origin: Corner = "front left"
    travel_speed: float = 400.0
    cut_speed: float = 15.0
    acceleration: float = 3000.0
    kerf: dict[str, float] = field(default_factory=dict)
    lens: Lens | None = None
    beam_on_delay: float = 0.0
    beam_off_delay: float = 0.0
    pierce_time: float = 0.0
    lead_in: float = 0.0
    heat_distance: float = 0.0
    heat_time: float = 0.0
    thin_web: float = 0.0
    refocus: Refocus | None = None
    axis_speeds: PerAxis | None = None
    axis_accelerations: PerAxis | None = None
    junction_deviation: float = JUNCTION_DEVIATION_MM
    velocity_jump: float | None = None

    @cached_property
    def kinematics(self) -> Kinematics:
        """How the head may move."""
        return Kinematics(
            self.acceleration,
            self.axis_speeds,
            self.axis_accelerations,
            self.junction_deviation,
            self.velocity_jump,
        )

    @property
    def cut_dwell(self) -> float:
        """Seconds that the head stands in every cut."""
        return self.pierce_time + self.beam_on_delay + self.beam_off_delay

    @property
    def depth_of_focus(self) -> float:
        """Total depth of focus in mm, by the lens's own definition."""
        return self.lens.depth_of_focus if self.lens else UNSTATED_DEPTH_MM


@dataclass(frozen=True)
class Stock:
    """Sheets of one kind: sizes, thickness, margin in mm; quantity None is as many as it takes.

    `outline` is None for the plain rectangle; otherwise `width` and `height` are its extent and it
    lies with its lower left corner at (0, 0). `keep_outs` are in the same coordinates. With `cut_out`
    the sheet itself is cut out of a larger board, last of all.
    """

    name: str
    width: float
    height: float
    thickness: float
    material: str
    quantity: int | None = None
    margin: float = 0.0
    keep_outs: tuple[Region, ...] = ()
    outline: Region | None = None
    cost: float | None = None
    cut_out: bool = False

    @property
    def region(self) -> Region:
        """The outline, also of a plain rectangle."""
        return self.outline or Region.rectangle(self.width, self.height)


@dataclass(frozen=True)
class Blank:
    """A kind of blank: lengths in mm, turns in degrees; areas in the footprint's coordinates.

    `height` is the focus height that gets most of the mark area into focus, `relief` how far the
    surface rises and falls over that area: 0 for a flat one. A blank with a `solid` has that one's
    silhouette as its footprint. `notch` is the diameter of the finger notches that its pocket gets where
    there is room, which layouts leave if it is `notch_reserved`; `corner_relief` that of discs cut out at
    its corners; 0 for none. `finish` is what its surface is like. `most_incidence` is how many degrees from
    the surface normal the beam may come without a warning; wrapped artwork stays within it.
    """

    name: str
    footprint: Region
    height: float
    gap: float
    clearance: float
    turns: tuple[float, ...]
    mark_area: Region
    setting: str
    material: str | None = None
    relief: float = 0.0
    solid: Solid | None = None
    notch: float = 0.0
    corner_relief: float = 0.0
    finish: str | None = None
    notch_reserved: bool = False
    most_incidence: float = MOST_INCIDENCE_DEG

    @property
    def reach(self) -> float:
        """How far its pocket reaches beyond the seat, finger notches apart."""
        return max(self.clearance, self.corner_relief / 2)

    def seat(self, thickness: float) -> Region:
        """Give the outline that it needs in a sheet so thick: of a flat blank the footprint's.

        Raises
        ------
        ValueError
            If its body lies above the face of the sheet.
        """
        if self.solid is None:
            return Region(self.footprint.outer)
        found = self.solid.seat(thickness)
        if found is None:
            raise ValueError(f"blank {self.name!r} lies above the face of a sheet {thickness:g} mm thick")
        return found

    def focus_window(self, machine: Machine) -> tuple[float, float]:
        """Give the lowest and the highest focus height that keep all of the mark area in focus.

        Where none does, both are `height`, from which most of it is in focus.

        >>> machine = Machine(600, 400, lens=Lens(50.8, 8))
        >>> area = Region.rectangle(30, 20)
        >>> plate = Blank("plate", area, 6.0, 1.0, 0.2, (0.0,), area, "fine")
        >>> [round(height, 3) for height in plate.focus_window(machine)]
        [5.456, 6.544]
        """
        slack = max(machine.depth_of_focus - self.relief, 0.0) / 2
        return self.height - slack, self.height + slack


@dataclass(frozen=True)
class KeptHole:
    """What pockets of a kept sheet were cut for.

    Attributes
    ----------
    blank
        Name that the blank had then.
    hole
        The finished hole without notches, in that blank's coordinates.
    clearance
        Play per side in mm.
    """

    blank: str
    hole: Region
    clearance: float


@dataclass(frozen=True)
class KeptPocket:
    """A pocket of a kept sheet.

    Attributes
    ----------
    number
        The number it has on its sheet.
    blank
        The `KeptHole.blank` that it was cut for.
    x, y, turn
        Where that blank lies, as in `nesting.plan_values.Pocket`.
    outline
        The finished hole, notches included, in sheet coordinates.
    notches
        Discs (middle x, y and diameter) that the hole takes in, in sheet coordinates.
    free
        Whether it may be filled.
    """

    number: int
    blank: str
    x: float
    y: float
    turn: float
    outline: Region
    notches: tuple[tuple[float, float, float], ...] = ()
    free: bool = True


@dataclass(frozen=True)
class KeptSheet:
    """A sheet that was cut before and costs nothing to use again.

    Attributes
    ----------
    name
        What it is called where it is kept.
    stock
        What it was cut from.
    holes
        What its pockets were cut for.
    pockets
        All its pockets.
    kerf
        Width in mm that the beam removed: as measured, or else as planned.
    cut_on
        When it was cut, as far as that is known.
    used
        How often it was loaded so far.
    """

    name: str
    stock: Stock
    holes: tuple[KeptHole, ...]
    pockets: tuple[KeptPocket, ...]
    kerf: float = 0.0
    cut_on: date | None = None
    used: int = 0

    def hole(self, pocket: KeptPocket) -> KeptHole:
        """Find what a pocket was cut for."""
        return next(hole for hole in self.holes if hole.blank == pocket.blank)


@dataclass(frozen=True)
class Lettering:
    """A text to be written.

    Attributes
    ----------
    font
        With every character that the job's texts need.
    words
        The text, where it is the same on every unit.
    column
        Otherwise the key among an order line's `texts` that holds it.
    size
        Height of the capitals in mm; for the rule ``"inside"`` any.
    smallest
        Capitals are never made smaller than this, mm.
    lines
        So many lines a text may be wrapped into, between words.
    align
        How the lines lie to each other.
    spacing
        Distance of the baselines, as a multiple of the capitals' height.
    """

    font: Font
    words: str = ""
    column: str = ""
    size: float = 10.0
    smallest: float = 1.0
    lines: int = 1
    align: Align = "centre"
    spacing: float = 1.6

    def text(self, order: "OrderLine") -> str:
        """Give what is written on the units of an order line."""
        if self.words:
            return self.words
        return next((text for key, text in order.texts.items() if key.casefold() == self.column), "")


@dataclass(frozen=True)
class Dots:
    """A picture to be swept row by row, its greys made of dots as large as the setting's interval.

    `dither` ``"threshold"`` marks what is darker than `threshold`; ``"diffusion"`` hands the error on
    to the neighbours; ``"ordered"`` compares with a fixed pattern. The lower left corner lies at (x, y)
    in the artwork's drawing.
    """

    picture: Picture
    dither: Dither = "diffusion"
    threshold: float = 0.5
    x: float = 0.0
    y: float = 0.0


Content = Drawing | Lettering | Dots


@dataclass(frozen=True)
class Hatch:
    """How areas are filled: ``"lines"`` at `angle` degrees, or ``"rings"`` along their edges.

    Without an angle lines run along the blank's x axis or across it, whichever takes less time.
    `interval` in mm goes before that of the mark setting.
    """

    pattern: HatchPattern = "lines"
    angle: float | None = None
    interval: float | None = None


@dataclass(frozen=True)
class Around:
    """Copies of a drawing, its middle `radius` mm (as drawn) from the centre, each turned with the circle."""

    count: int
    radius: float


@dataclass(frozen=True)
class Artwork:
    """What is marked, and the rule that puts it into a mark area.

    Attributes
    ----------
    content
        A drawing, a text or a picture.
    fit
        ``"inside"`` makes it as large as the area, less `inset` and `margins`, allows; ``"fill"`` makes
        it cover that area and cuts off what stands out; ``"size"`` gives what is drawn the width or
        height stated (one of them suffices); ``"true"`` leaves it as drawn; ``"shrink"`` is one of
        these two, made smaller where it does not fit.
    inset, margins
        Clear distance in mm to the area's edge all round; and to its extent left, below, right, above.
    turn
        In degrees counter-clockwise on the blank.
    align_x, align_y, offset
        Where in the area it sits, and how far (x, y) mm it is moved from there.
    mirrored
        Whether left and right of the drawing change places.
    around
        Copies round a circle, if the drawing is not marked once.
    hatch
        How its areas are filled.
    wrap
        Whether its measures are those along the surface of a body, instead of those seen from above.
    pictures
        What of its drawing is swept as dots.
    """

    name: str
    content: Content
    fit: Fit = "inside"
    width: float | None = None
    height: float | None = None
    inset: float = 0.0
    turn: float = 0.0
    align_x: Align = "centre"
    align_y: AlignUp = "middle"
    margins: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0)
    offset: tuple[float, float] = (0.0, 0.0)
    mirrored: bool = False
    around: Around | None = None
    hatch: Hatch = Hatch()
    wrap: bool = False
    pictures: tuple[Dots, ...] = ()


@dataclass(frozen=True)
class OrderLine:
    """So many units of one blank with its artworks; `priority` 1 goes first.

    Attributes
    ----------
    quantity
        How many units are made, spares included.
    source
        Where the line was written, as ``"orders.csv, row 4"``.
    spares
        How many of the units, the last ones, are spares.
    numbers
        The numbers of the units, rising, where only some of the line are made; none means 1 to `quantity`.
    """

    name: str
    blank: str
    quantity: int
    artworks: tuple[str, ...] = ()
    texts: dict[str, str] = field(default_factory=dict)
    due: date | None = None
    priority: int = 5
    source: str = ""
    customer: str | None = None
    spares: int = 0
    numbers: tuple[int, ...] = ()

    @property
    def artwork(self) -> str | None:
        """Names of the artworks as people read them; None for a bare blank."""
        return " + ".join(self.artworks) or None

    @property
    def unit_numbers(self) -> Sequence[int]:
        """The numbers of its units, spares last."""
        return self.numbers or range(1, self.quantity + 1)


@dataclass(frozen=True)
class Costs:
    """What work costs besides the stock: for a sheet, a minute of cutting, a load, a minute of the machine.

    `sheet` is for setting a sheet up and away, `load` for changing the blanks on it. The machine runs
    while it cuts, marks, travels and waits: a minute of cutting costs `machine_minute` too.
    """

    sheet: float = 0.0
    cutting_minute: float = 0.0
    load: float = 0.0
    machine_minute: float = 0.0


@dataclass(frozen=True)
class SheetMarks:
    """What is marked on sheets: the font of the numbers, their height in mm, the name of the mark setting."""

    font: Font
    size: float
    setting: str


@dataclass(frozen=True)
class Job:
    """Everything a plan is made from.

    `sheet_use` ``"reload"`` lets a sheet be loaded again and again; ``"once"`` gives every unit its
    own pocket. `web` is the least material in mm between two pockets. `output` holds the options of
    plan writers, by the writer's name. With `sheet_marks` the sheets are marked before they are cut.
    `same_in_load` is what all units of a load must share. With `costs`, the least cost is planned for
    instead of the fewest sheets and then the fewest loads. `kept` are sheets that are at hand and need
    not be cut; in a plan, those of them that it uses, and all of a plan that it extends; with
    `kept_first` no pocket is cut for what fits one of theirs. `made` are order lines of plans that a
    plan builds on, with the numbers of the units that those make.
    Silhouettes of bodies may reach `overhang` mm beyond a sheet's edge, while their pockets and mark areas
    keep the margin; with None all of a blank keeps it.
    """

    title: str
    machine: Machine
    settings: tuple[MarkSetting, ...]
    stock: tuple[Stock, ...]
    blanks: tuple[Blank, ...]
    artworks: tuple[Artwork, ...]
    orders: tuple[OrderLine, ...]
    sheet_use: Literal["reload", "once"] = "reload"
    web: float = 3.0
    acknowledged_materials: tuple[str, ...] = ()
    output: dict[str, dict[str, OptionValue]] = field(default_factory=dict)
    sheet_marks: SheetMarks | None = None
    same_in_load: tuple[InLoad, ...] = ()
    costs: Costs | None = None
    kept: tuple[KeptSheet, ...] = ()
    made: tuple[OrderLine, ...] = ()
    kept_first: bool = False
    overhang: float | None = None

    @property
    def all_stock(self) -> dict[str, Stock]:
        """What sheets are of: the stock that can be cut by its name, and of kept sheets by theirs."""
        return {
            **{stock.name: stock for stock in self.stock},
            **{kept.name: kept.stock for kept in self.kept},
        }
