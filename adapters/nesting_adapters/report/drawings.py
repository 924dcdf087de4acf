"""What the pages draw: path data and places, worked out before a template sees them.

Coordinates are in mm on the sheet with y pointing down. Outlines and markings are symbols that each
page holds once; a load only says where they lie.
"""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

from shapely import LineString, Point
from shapely.ops import nearest_points

from nesting.geometry.contour import Contour
from nesting.job.job import Machine, Stock
from nesting.plan_values import CutSheet, Load, Marking, Part, Pocket
from nesting_adapters.memory import Memory
from nesting_adapters.plan_lookup import Lookup, Place, Spot
from nesting_adapters.plan_runs import sheet_mark_lines
from nesting_adapters.report.visits import Stay, Visit, cut_visits, encoded, mark_visits
from nesting_adapters.svg_path_data import joint_path_data, number, placing

SHOWN_MM = 0.05
"""Outlines of markings are simplified to this for the pages, which never guide a beam."""

MOST_SWEEPS_SHOWN = 4000
"""A picture of dots is shown by no more of its sweeps."""

DECIMALS = 2


@dataclass(frozen=True)
class Symbol:
    """Something drawn once and used again: path data to fill, by rule, and path data to stroke."""

    id: str
    fills: tuple[tuple[str, str], ...] = ()
    lines: str = ""


@dataclass(frozen=True)
class Label:
    """A pocket's number and where it stands; `size` is the height of the letters in mm."""

    text: str
    x: str
    y: str
    size: str


@dataclass(frozen=True)
class Lying:
    """The unit in a pocket: its symbols and the transform that puts them on the sheet."""

    pocket: int
    blank: str
    marking: str | None
    transform: str


@dataclass(frozen=True)
class Scene:
    """A sheet or a load: `unit` is a hundredth of the longer side, by which strokes and letters scale.

    Blanks may reach `over` mm beyond its edge.
    """

    sheet: str
    width: float
    height: float
    unit: float
    labels: tuple[Label, ...]
    lying: tuple[Lying, ...]
    empty: tuple[str, ...]
    travel: str
    arrows: str
    start: Spot
    visits: str
    over: float


@dataclass(frozen=True)
class Thumbnail:
    """One unit as it lies in its pocket, and the box round it: x, y, width, height."""

    box: tuple[float, float, float, float]
    lying: Lying


@dataclass(frozen=True)
class PocketRow:
    """A pocket's line in the table: the box of its hole, and the positions of its cuts."""

    pocket: Pocket
    box: tuple[float, float, float, float]
    cuts: list[int]


Box = tuple[float, float, float, float]


@dataclass(frozen=True)
class Drawings:
    """The drawings of a plan."""

    lookup: Lookup

    @cached_property
    def _loads(self) -> Memory[Scene]:
        return Memory()

    @cached_property
    def _stays(self) -> Memory[Stay]:
        return Memory()

    @cached_property
    def _boxes(self) -> Memory[Box]:
        return Memory()

    @cached_property
    def _markup(self) -> Memory[str]:
        return Memory()

    def once(self, what: str, scene: Scene, draw: Callable[[Scene], str]) -> str:
        """Have a template draw what the scenes of a kind have in common on a sheet; it is drawn once."""
        return self._markup.once((what, scene.sheet, scene.labels), lambda: draw(scene))

    @cached_property
    def sheets(self) -> dict[str, str]:
        """What a page calls the drawing of each sheet, by the sheet's name."""
        return {sheet.name: f"sheet-{k}-drawn" for k, sheet in enumerate(self.lookup.plan.all_sheets, 1)}

    @cached_property
    def blanks(self) -> dict[str, Symbol]:
        """The footprint of each blank, by its name."""
        blanks = self.lookup.plan.job.blanks
        return {
            b.name: Symbol(f"blank-{k}", lines=_shown(b.footprint.contours)) for k, b in enumerate(blanks, 1)
        }

    @cached_property
    def markings(self) -> dict[str, Symbol]:
        """What is marked, by the marking's name; fills as areas, not sweep by sweep."""
        return {
            m.name: _marking_symbol(f"marking-{k}", m) for k, m in enumerate(self.lookup.plan.markings, 1)
        }

    @cached_property
    def _corner_labels(self) -> dict[str, list[Label]]:
        stock = self.lookup.stock
        return {
            sheet.name: [_cornered(pocket, stock[sheet.stock]) for pocket in sheet.pockets]
            for sheet in self.lookup.plan.all_sheets
        }

    def pockets(self, sheet: CutSheet) -> list[Symbol]:
        """Give the finished holes of a sheet."""
        height = self.lookup.stock[sheet.stock].height
        return [
            Symbol(self._hole(sheet, pocket), lines=_data(pocket.outline.contours, height))
            for pocket in sheet.pockets
        ]

    def _hole(self, sheet: CutSheet, pocket: Pocket) -> str:
        return f"{self.sheets[sheet.name]}-{pocket.number}"

    def edges(self, sheet: CutSheet) -> tuple[str, str]:
        """Path data of a sheet's own outline, and of its keep-outs."""
        stock = self.lookup.stock[sheet.stock]
        keep_outs = [contour for region in stock.keep_outs for contour in region.contours]
        return _data(stock.region.contours, stock.height), _data(keep_outs, stock.height)

    def resting(self, sheet: CutSheet) -> str:
        """Path data of a kept sheet's holes that no load fills."""
        holes = [contour for hole in self.lookup.resting(sheet) for contour in hole.contours]
        return _data(holes, self.lookup.stock[sheet.stock].height)

    def sheet_marks(self, sheet: CutSheet) -> str:
        """Path data of what is marked on a sheet itself."""
        return _data([*sheet_mark_lines(sheet)], self.lookup.stock[sheet.stock].height)

    def of_sheet(self, sheet: CutSheet) -> Scene:
        """Draw a sheet to cut: its pockets, their numbers amid them, and the way from cut to cut."""
        stock, machine = self.lookup.stock[sheet.stock], self.lookup.plan.job.machine
        labels = [_centred(pocket, stock) for pocket in sheet.pockets]
        return self._scene(sheet, stock, labels, [], [], cut_visits(sheet, machine, _origin(machine, stock)))

    def of_load(self, load: Load) -> Scene:
        """Draw a load: units in their pockets with what is marked on them, and the way from unit to unit."""
        return self._loads.once(load.number, lambda: self._load(load))

    def _load(self, load: Load) -> Scene:
        sheet = self.lookup.sheets[load.sheet]
        stock, machine = self.lookup.stock[sheet.stock], self.lookup.plan.job.machine
        places = self.lookup.places(load)
        filled = {place.pocket.number for place in places}
        empty = [self._hole(sheet, pocket) for pocket in sheet.pockets if pocket.number not in filled]
        visits = mark_visits(load, places, machine, _origin(machine, stock), self._stays)
        lying = [self._lying(place, stock.height) for place in places]
        return self._scene(sheet, stock, self._corner_labels[sheet.name], lying, empty, visits)

    def pocket_rows(self, sheet: CutSheet) -> list[PocketRow]:
        """List a sheet's pockets with the positions of their cuts in the cut path."""
        cuts: dict[int, list[int]] = {pocket.number: [] for pocket in sheet.pockets}
        for order, step in enumerate(sheet.cut_path.steps, 1):
            cuts.setdefault(step.pocket, []).append(order)
        return [PocketRow(pocket, pocket.outline.bounds, cuts[pocket.number]) for pocket in sheet.pockets]

    def thumbnail(self, place: Place) -> Thumbnail:
        """Draw one unit as it lies in its pocket, round (0, 0)."""
        pocket = place.pocket
        x0, y0, x1, y1 = self._boxes.once(
            (place.blank.name, pocket.turn), lambda: place.blank.footprint.moved(0, 0, pocket.turn).bounds
        )
        room = 0.03 * max(x1 - x0, y1 - y0)
        box = (x0 - room, -y1 - room, x1 - x0 + 2 * room, y1 - y0 + 2 * room)
        return Thumbnail(box, self._symbols(place, placing(0, 0, pocket.turn, 0, DECIMALS)))

    def _lying(self, place: Place, height: float) -> Lying:
        pocket = place.pocket
        return self._symbols(place, placing(pocket.x, pocket.y, pocket.turn, height, DECIMALS))

    def _symbols(self, place: Place, transform: str) -> Lying:
        marking = self.markings[place.marking.name].id if place.marking is not None else None
        return Lying(place.pocket.number, self.blanks[place.blank.name].id, marking, transform)

    def _scene(
        self,
        sheet: CutSheet,
        stock: Stock,
        labels: list[Label],
        lying: list[Lying],
        empty: list[str],
        visits: list[Visit],
    ) -> Scene:
        unit = max(stock.width, stock.height) / 100
        start = _origin(self.lookup.plan.job.machine, stock)
        legs = _legs(start, [visit.ends for visit in visits])
        travel = "".join(_line([a, b], stock.height) for a, b in legs)
        arrows = "".join(_arrow(a, b, unit, stock.height) for a, b in legs)
        return Scene(
            sheet.name, stock.width, stock.height, unit, tuple(labels), tuple(lying),
            tuple(empty), travel, arrows, (start[0], stock.height - start[1]),
            encoded(visits, stock.height), self.lookup.plan.job.overhang or 0.0,
        )  # fmt: skip


def _marking_symbol(name: str, marking: Marking) -> Symbol:
    fills = tuple((part.rule, _shown(part.contours)) for part in marking.parts if part.kind == "fill")
    lines = [contour for part in marking.parts if part.kind == "line" for contour in part.contours]
    rows = [row for part in marking.parts if part.kind == "dots" for row in _thinned(part)]
    return Symbol(name, fills, _shown([*lines, *rows]))


def _thinned(part: Part) -> Iterator[Contour]:
    """Show some of a picture's sweeps, for a page needs no more than an impression of it."""
    for x0, y0, x1, y1 in part.sweeps[:: -(-len(part.sweeps) // MOST_SWEEPS_SHOWN)]:
        yield Contour.polyline([(x0, y0), (x1, y1)], closed=False)


def _data(contours: Sequence[Contour], height: float = 0.0) -> str:
    return joint_path_data(contours, height, DECIMALS)


def _shown(contours: Sequence[Contour]) -> str:
    return _data([_simplified(contour) for contour in contours])


def _simplified(contour: Contour) -> Contour:
    if len(contour.vertices) <= 8:
        return contour
    points = contour.flattened(SHOWN_MM)
    chain = LineString([*points, points[0]] if contour.closed else points).simplify(SHOWN_MM)
    corners = list(chain.coords)[: -1 if contour.closed else None]
    return Contour.polyline(corners, closed=contour.closed) if len(corners) > 2 else contour


def _origin(machine: Machine, stock: Stock) -> Spot:
    """Find the sheet's corner where the beam waits, at the bed's own."""
    return (
        stock.width if "right" in machine.origin else 0.0,
        stock.height if "back" in machine.origin else 0.0,
    )


def _legs(start: Spot, stops: list[tuple[Spot, Spot]]) -> list[tuple[Spot, Spot]]:
    leaving = [start, *(end for _, end in stops)]
    return [(here, there) for here, (there, _) in zip(leaving, stops, strict=False)]


def _line(spots: Sequence[Spot], height: float) -> str:
    return _data([Contour.polyline(spots, closed=False)], height)


def _arrow(a: Spot, b: Spot, unit: float, height: float) -> str:
    """Draw a small arrow head amid a leg; none on a leg too short for one."""
    length = math.dist(a, b)
    if length < 3 * unit:
        return ""
    dx, dy = (b[0] - a[0]) / length, (b[1] - a[1]) / length
    x, y, half = (a[0] + b[0]) / 2, (a[1] + b[1]) / 2, 0.5 * unit
    tip = (x + 2 * half * dx, y + 2 * half * dy)
    wings = [(x + side * half * dy, y - side * half * dx) for side in (1, -1)]
    return _data([Contour.polyline([tip, *wings])], height)


def _centred(pocket: Pocket, stock: Stock) -> Label:
    spot = pocket.outline.shape().representative_point()
    x0, y0, x1, y1 = pocket.outline.bounds
    middle = Point((x0 + x1) / 2, (y0 + y1) / 2)
    return _label(pocket, middle if pocket.outline.shape().contains(middle) else spot, stock)


def _cornered(pocket: Pocket, stock: Stock) -> Label:
    """Put the number where it hides the artwork least: inside the pocket, towards its upper left corner."""
    x0, _, _, y1 = pocket.outline.bounds
    size = _size(pocket, stock)
    room = pocket.outline.shape().buffer(-size * (0.4 + 0.3 * len(str(pocket.number))))
    spot = nearest_points(room, Point(x0, y1))[0] if not room.is_empty else pocket.outline.shape().centroid
    return _label(pocket, spot, stock)


def _size(pocket: Pocket, stock: Stock) -> float:
    """Choose letters that can be read on paper, smaller in narrow pockets to leave their artwork in sight."""
    x0, y0, x1, y1 = pocket.outline.bounds
    narrow, page = min(x1 - x0, y1 - y0), max(stock.width, stock.height)
    return min(0.022 * page, 0.6 * narrow, max(0.3 * narrow, 0.012 * page))


def _label(pocket: Pocket, spot: Point, stock: Stock) -> Label:
    size = _size(pocket, stock)
    x, y = number(spot.x, DECIMALS), number(stock.height - spot.y + 0.35 * size, DECIMALS)
    return Label(str(pocket.number), x, y, number(size, DECIMALS))
