"""What a job means, after reading: lengths in mm, files resolved, every name known."""

from dataclasses import dataclass, field
from datetime import date
from typing import Literal

from nesting.body.lens import Lens
from nesting.geometry.drawing import Drawing
from nesting.geometry.region import Region

Corner = Literal["front left", "front right", "back left", "back right"]
Align = Literal["left", "centre", "right"]
AlignUp = Literal["bottom", "middle", "top"]
OptionValue = bool | int | float | str | tuple[str | int | float, ...]
"""What an option of a plug-in may hold, in a job document, in ``plan.json`` and on the command line."""

UNSTATED_DEPTH_MM = 1.0
"""Depth of focus of a machine whose lens is not stated; common practice, no source."""


@dataclass(frozen=True)
class MarkSetting:
    """How the beam marks: `speed` in mm/s, `interval` between sweeps of a fill in mm, `power` in %."""

    name: str
    speed: float = 300.0
    interval: float = 0.1
    power: float | None = None
    passes: int = 1


@dataclass(frozen=True)
class Machine:
    """The machine: bed in mm, speeds in mm/s, acceleration in mm/s², kerf in mm by material.

    Without a lens the depth of focus counts as `UNSTATED_DEPTH_MM`.
    """

    bed_width: float
    bed_height: float
    origin: Corner = "front left"
    travel_speed: float = 400.0
    cut_speed: float = 15.0
    acceleration: float = 3000.0
    kerf: dict[str, float] = field(default_factory=dict)
    lens: Lens | None = None

    @property
    def depth_of_focus(self) -> float:
        """Total depth of focus in mm, by the lens's own definition."""
        return self.lens.depth_of_focus if self.lens else UNSTATED_DEPTH_MM


@dataclass(frozen=True)
class Stock:
    """Sheets of one kind: sizes, thickness, margin in mm; quantity None is as many as it takes.

    `outline` is None for the plain rectangle; otherwise `width` and `height` are its extent and it
    lies with its lower left corner at (0, 0). `keep_outs` are in the same coordinates.
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

    @property
    def region(self) -> Region:
        """The outline, also of a plain rectangle."""
        return self.outline or Region.rectangle(self.width, self.height)


@dataclass(frozen=True)
class Blank:
    """A kind of blank: lengths in mm, turns in degrees; areas in the footprint's coordinates.

    `height` is the focus height that gets most of the mark area into focus, `relief` how far the
    surface rises and falls over that area: 0 for a flat one.
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
class Artwork:
    """A drawing and the rule that puts it into a mark area.

    `fit` ``"fill"`` makes it as large as the area's bounding box, less `inset` mm all round, allows;
    ``"size"`` gives what is drawn the width or height stated (one of them suffices), and ``"true"``
    leaves it as drawn. `turn` is in degrees counter-clockwise on the blank, and `align_x`, `align_y`
    say where in the area it sits.
    """

    name: str
    drawing: Drawing
    fit: Literal["fill", "size", "true"] = "fill"
    width: float | None = None
    height: float | None = None
    inset: float = 0.0
    turn: float = 0.0
    align_x: Align = "centre"
    align_y: AlignUp = "middle"


@dataclass(frozen=True)
class OrderLine:
    """So many units of one blank with one artwork; `priority` 1 goes first."""

    name: str
    blank: str
    quantity: int
    artwork: str | None = None
    texts: dict[str, str] = field(default_factory=dict)
    due: date | None = None
    priority: int = 5


@dataclass(frozen=True)
class Job:
    """Everything a plan is made from.

    `sheet_use` ``"reload"`` lets a sheet be loaded again and again; ``"once"`` gives every unit its
    own pocket. `web` is the least material in mm between two pockets. `output` holds the options of
    plan writers, by the writer's name.
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
