"""The run sheet on paper: what to do, what to cut, and a numbered map and list for each load."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial

from nesting.geometry.contour import Contour, cos_sin
from nesting.job.job import MarkSetting, Stock
from nesting.plan_values import CutSheet, Load, Pocket
from nesting.words import counted
from nesting_adapters.csv_run_sheet import texts_in_words
from nesting_adapters.pdf_page import GREY, LACKING, Pages, wrapped
from nesting_adapters.plan_lookup import Lookup, Place, heights_in_words
from nesting_adapters.plan_runs import sheet_mark_lines
from nesting_adapters.report import cautions
from nesting_adapters.report.words import duration, figure, ranges

MARGIN = 14.0
SIZE = 3.0
LINE = 4.4
"""Height of a line of text, mm."""

MOST_LINES = 40
"""A cell of more lines goes on below, on the next page if need be."""

MAP_HEIGHT = 105.0
BOX = 3.4
"""Side of a tick box, mm."""


@dataclass(frozen=True)
class _Column:
    heading: str
    share: float


UNITS = (
    _Column("Done", 0.06), _Column("Pocket", 0.08), _Column("Blank", 0.18), _Column("Turn", 0.09),
    _Column("Order line, unit", 0.19), _Column("Artwork", 0.18), _Column("Texts", 0.22),
)  # fmt: skip
SHEETS = (
    _Column("Cut", 0.05), _Column("Sheet", 0.07), _Column("Stock", 0.30), _Column("Pockets", 0.09),
    _Column("Loads", 0.13), _Column("Thickness measured", 0.18), _Column("Kerf measured", 0.18),
)  # fmt: skip


def run_sheet(lookup: Lookup, paper: tuple[float, float]) -> bytes:
    """Make the run sheet."""
    sheet = _RunSheet(lookup, Pages(*paper, f"{lookup.plan.job.title}: run sheet"))
    sheet.first_page()
    for load in lookup.plan.loads:
        sheet.load(load)
    return sheet.finished()


class _RunSheet:
    """Writes downwards and begins a new page where the last one is full."""

    def __init__(self, lookup: Lookup, pages: Pages) -> None:
        self.lookup, self.pages = lookup, pages
        self.width = pages.width - 2 * MARGIN
        self.y, self.page = 0.0, 0
        self.heading = f"{lookup.plan.job.title}: run sheet"

    def first_page(self) -> None:
        """Write the sequence, the sheets to cut, warnings and cautions."""
        plan = self.lookup.plan
        self._new_page()
        units = sum(len(load.fillings) for load in plan.loads)
        counts = (
            counted(len(plan.sheets), "sheet"),
            counted(len(plan.loads), "load"),
            counted(units, "unit"),
        )
        self._paragraph(f"{counts[0]} to cut, {counts[1]} to mark, {counts[2]}.")
        self._list(
            "Kept sheets to fetch",
            [f"Sheet {sheet.name}, kept as {sheet.stock}" for sheet in plan.kept],
            boxes=True,
        )
        missing = [f"{count} of order line {name}" for name, count in plan.unplaced]
        warnings = [f"Not placed: {', '.join(missing)}."] if missing else []
        self._list("Warnings", [*warnings, *plan.warnings])
        self._list("Working sequence", cautions.sequence(plan), boxes=True)
        if plan.sheets:
            self._title("Sheets to cut")
            self._table(SHEETS, (self._sheet_cells(sheet) for sheet in plan.sheets))
        self._list("Cautions", [*cautions.ALWAYS, cautions.DEFERENCE])

    def load(self, load: Load) -> None:
        """Write the map and the list of a load, on pages of its own."""
        places = self.lookup.places(load)
        sheet = self.lookup.sheets[load.sheet]
        stock = self.lookup.stock[sheet.stock]
        total = len(self.lookup.plan.loads)
        self._new_page()
        heights = heights_in_words(load)
        self._title(
            f"Load {load.number} of {total}: sheet {load.sheet}, focus {heights} above the bed",
            4.6,
        )
        for setting in dict.fromkeys(place.setting for place in places if place.marking):
            self._paragraph(_setting_in_words(setting))
        about = duration(load.mark_path.seconds).replace("\u00a0", " ")
        self._paragraph(f"{counted(len(places), 'unit')}; about {about} of marking (estimate).")
        self._map(sheet, stock, places)
        self._table(UNITS, (_unit_cells(place) for place in places), [place.pocket.turn for place in places])
        self._room(16)
        self.y -= 8
        self.pages.draw_once("to sign", self.width, 12, self._to_sign, (MARGIN, self.y - 9))
        self.y -= 7

    def _to_sign(self) -> None:
        self.pages.text(0, 9, "Operator ____________   Date ____________", SIZE)
        self.pages.text(0, 2, "To be made again (pocket numbers) ____________________________", SIZE)

    def finished(self) -> bytes:
        """End the last page."""
        self._end_page()
        return self.pages.finished()

    def _new_page(self) -> None:
        if self.page:
            self._end_page()
        self.pages.start()
        self.page += 1
        self.y = self.pages.height - MARGIN - 4
        self.pages.text(MARGIN, self.y, self.heading, 4, bold=True)
        self.y -= 8

    def _end_page(self) -> None:
        note = (
            f"   {LACKING} stands for a sign this font lacks; see run-sheet.html"
            if self.pages.lacking
            else ""
        )
        caution = "Never leave a running beam unattended. Times and focus heights are estimates."
        self.pages.text(MARGIN, 8, f"Page {self.page}. {caution}{note}", 2.4, colour=GREY)

    def _room(self, height: float) -> None:
        if self.y - height < MARGIN:
            self._new_page()

    def _title(self, text: str, size: float = 3.8) -> None:
        self._room(14)
        self.y -= 3
        for line in wrapped(text, size * 1.1, self.width):
            self.pages.text(MARGIN, self.y, line, size, bold=True)
            self.y -= size * 1.4

    def _paragraph(self, text: str, *, box: bool = False) -> None:
        inset = 6.0 if box else 0.0
        lines = wrapped(text, SIZE, self.width - inset)
        self._room(LINE * len(lines))
        if box:
            self.pages.box(MARGIN, self.y - 0.6, BOX, BOX)
        for line in lines:
            self.pages.text(MARGIN + inset, self.y, line, SIZE)
            self.y -= LINE

    def _list(self, title: str, texts: Sequence[str], *, boxes: bool = False) -> None:
        if texts:
            self._title(title)
        for text in texts:
            self._paragraph(text, box=boxes)
            self.y -= 0.8

    def _table(
        self, columns: Sequence[_Column], rows: Iterator[Sequence[str]], turns: Sequence[float] = ()
    ) -> None:
        self._head(columns)
        for k, cells in enumerate(rows):
            texts = [
                wrapped(cell, SIZE, column.share * self.width - 2)
                for cell, column in zip(cells, columns, strict=True)
            ]
            lines = max(1, *map(len, texts))
            for first in range(0, lines, MOST_LINES):
                piece = [text[first : first + MOST_LINES] for text in texts]
                self._row(columns, piece, turns[k] if turns and not first else None, ticked=not first)
            self.pages.line([(MARGIN, self.y + 3.3), (MARGIN + self.width, self.y + 3.3)], 0.1, GREY)

    def _head(self, columns: Sequence[_Column]) -> None:
        self._room(3 * LINE)
        self.pages.draw_once(
            columns, self.width, 2 * LINE, lambda: self._headings(columns), (MARGIN, self.y - LINE)
        )
        self.y -= 1.2 + LINE

    def _headings(self, columns: Sequence[_Column]) -> None:
        x = 0.0
        for column in columns:
            self.pages.text(x, LINE, column.heading, 2.5, colour=GREY)
            x += column.share * self.width
        self.pages.line([(0, LINE - 1.2), (self.width, LINE - 1.2)], 0.2)

    def _row(
        self, columns: Sequence[_Column], texts: Sequence[Sequence[str]], turn: float | None, *, ticked: bool
    ) -> None:
        page, height = self.page, LINE * max(1, *map(len, texts)) + 1.2
        self._room(height)
        if self.page != page:
            self._head(columns)
        x = MARGIN
        if ticked:
            self.pages.box(x, self.y - 0.6, BOX, BOX)
        for column, lines in zip(columns, texts, strict=True):
            for k, line in enumerate(lines):
                self.pages.text(x, self.y - k * LINE, line, SIZE, bold=column.heading in ("Pocket", "Sheet"))
            if column.heading == "Turn" and turn is not None:
                self._arrow(x + 12, self.y + 1, turn)
            x += column.share * self.width
        self.y -= height

    def _arrow(self, x: float, y: float, turn: float) -> None:
        self.pages.draw_once(
            ("arrow", turn), LINE, LINE, lambda: self.pages.draw(arrow(LINE / 2, LINE / 2, 3.6, turn), 0.3),
            (x - LINE / 2, y - LINE / 2),
        )  # fmt: skip

    def _sheet_cells(self, sheet: CutSheet) -> Sequence[str]:
        stock = self.lookup.stock[sheet.stock]
        loads = ranges(load.number for load in self.lookup.loads_of(sheet))
        size = f"{figure(stock.width)} x {figure(stock.height)} x {figure(stock.thickness)} mm"
        kerf = figure(self.lookup.plan.job.machine.kerf.get(stock.material, 0.0))
        return (
            "", sheet.name, f"{stock.name}, {stock.material}, {size}", str(len(sheet.pockets)),
            loads or "none", "______ mm", f"______ mm (planned {kerf})",
        )  # fmt: skip

    def _empty_sheet(self, sheet: CutSheet, stock: Stock, scale: float) -> None:
        self.pages.draw(stock.region.contours, 0.3 / scale)
        for hole in [*(pocket.outline for pocket in sheet.pockets), *self.lookup.resting(sheet)]:
            self.pages.draw(hole.contours, 0.25 / scale, GREY)
        self.pages.draw(sheet_mark_lines(sheet), 0.15 / scale, GREY)

    def _filled_pocket(self, pocket: Pocket, size: float) -> None:
        """Draw a pocket with its number and which way is up on its blank; `size` is the number's height."""
        x0, y0, x1, y1 = pocket.outline.bounds
        width, height = x1 - x0, y1 - y0
        size = min(size, width / 2, height / 1.4)
        x, y, (dx, dy) = (x0 + x1) / 2, (y0 + y1) / 2, _spread(width, height)
        self.pages.draw(pocket.outline.contours, size / 18)
        self.pages.text(x, y - size / 2.7, str(pocket.number), size, bold=True, align="centre")
        self.pages.draw(arrow(x + dx, y + dy, 0.35 * min(width, height), pocket.turn), size / 20, GREY)

    def _map(self, sheet: CutSheet, stock: Stock, places: Sequence[Place]) -> None:
        scale = min(self.width / stock.width, MAP_HEIGHT / stock.height)
        height = stock.height * scale
        self._room(height + 6)
        bottom = self.y - height
        filled = {place.pocket.number for place in places}
        with self.pages.within(MARGIN - 1, bottom - 1, self.width + 2, height + 2) as frame:
            frame.move(MARGIN, bottom, scale)
            drawings = {0: partial(self._empty_sheet, sheet, stock, scale)}
            drawings |= {
                pocket.number: partial(self._filled_pocket, pocket, 4.5 / scale)
                for pocket in sheet.pockets
                if pocket.number in filled
            }
            for number, draw in drawings.items():
                self.pages.draw_once((sheet.name, number, scale), stock.width, stock.height, draw)
        self.y = bottom - 4
        said = "Seen from above, front edge towards you. Arrows: the blank's own up. Grey pockets stay empty."
        self.pages.text(MARGIN, self.y, said, 2.5, colour=GREY)
        self.y -= 7


def _spread(width: float, height: float) -> tuple[float, float]:
    """Give the shift from a box's middle to where the arrow stands clear of the number."""
    return (-0.3 * width, 0.0) if width > 1.3 * height else (0.0, 0.3 * height)


def arrow(x: float, y: float, length: float, turn: float) -> list[Contour]:
    """Make an arrow round (x, y) that points up at turn 0."""
    c, s = cos_sin(turn)

    def at(across: float, along: float) -> tuple[float, float]:
        return x + across * c - along * s, y + across * s + along * c

    half, wing = length / 2, length / 3
    head = [at(-wing, half - wing), at(0, half), at(wing, half - wing)]
    shaft = [at(0, -half), at(0, half)]
    return [Contour.polyline(shaft, closed=False), Contour.polyline(head, closed=False)]


def _unit_cells(place: Place) -> Sequence[str]:
    artwork = ", ".join(place.marking.artworks) if place.marking else "none"
    return (
        "", str(place.pocket.number), place.blank.name, f"{figure(place.pocket.turn)}°",
        f"{place.order.name}, {place.filling.unit.number}", artwork, texts_in_words(place.order.texts),
    )  # fmt: skip


def _setting_in_words(setting: MarkSetting) -> str:
    power = "power as set at the machine" if setting.power is None else f"power {figure(setting.power)} %"
    sweeps = f"sweeps {figure(setting.interval)} mm apart"
    passes = counted(setting.passes, "pass")
    return f"Setting {setting.name}: {figure(setting.speed)} mm/s, {sweeps}, {power}, {passes}."
