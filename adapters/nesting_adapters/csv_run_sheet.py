"""Writes the run sheet, the list of sheets to cut and the places of the pockets as CSV."""

from collections.abc import Sequence
from typing import ClassVar

from nesting.job.job import MarkSetting
from nesting.plan_values import CutSheet, Plan, Pocket
from nesting_adapters.csv_table import Cell, CsvOptions
from nesting_adapters.plan_lookup import Lookup, Place

RUN_SHEET = (
    "load", "sheet", "pocket", "blank", "order line", "unit", "artwork", "texts", "turn (degrees)",
    "focus height (mm)", "setting", "speed (mm/s)", "interval (mm)", "power (%)", "passes", "due", "done",
)  # fmt: skip
CUT_LIST = (
    "sheet", "stock", "material", "thickness (mm)", "width (mm)", "height (mm)", "kerf (mm)", "pockets",
    "fill (%)", "loads", "units", "cut length (mm)", "estimated cut time (s)", "from the rack",
)  # fmt: skip
PLACEMENTS = (
    "sheet", "pocket", "blank", "x (mm)", "y (mm)", "turn (degrees)", "left (mm)", "bottom (mm)",
    "width (mm)", "height (mm)",
)  # fmt: skip
"""Where blanks lie, their own (0, 0) and turn, and the box round the finished pocket."""


class CsvRunSheetWriter(CsvOptions):
    """A row for each unit in ``run-sheet.csv``, sheet in ``sheets.csv``, pocket in ``placements.csv``."""

    summary: ClassVar[str] = "run-sheet.csv, sheets.csv and placements.csv: every unit, sheet and pocket"

    def files(self, plan: Plan) -> dict[str, bytes]:
        """Make the files."""
        lookup = Lookup(plan)
        units = [_unit_row(place) for load in plan.loads for place in lookup.places(load)]
        sheets = [_sheet_row(lookup, sheet) for sheet in plan.all_sheets]
        pockets = [_pocket_row(sheet, pocket) for sheet in plan.all_sheets for pocket in sheet.pockets]
        return {
            "run-sheet.csv": self.table(RUN_SHEET, units),
            "sheets.csv": self.table(CUT_LIST, sheets),
            "placements.csv": self.table(PLACEMENTS, pockets),
        }


def texts_in_words(texts: dict[str, str]) -> str:
    """Write an order line's texts in one cell.

    >>> texts_in_words({"name": "Ada", "year": "1843"})
    'name: Ada; year: 1843'
    """
    return "; ".join(f"{key}: {value}" for key, value in texts.items())


def _unit_row(place: Place) -> Sequence[Cell]:
    order = place.order
    return (
        place.load.number, place.sheet.name, place.pocket.number, place.blank.name, order.name,
        place.filling.unit.number, order.artwork, texts_in_words(order.texts), place.pocket.turn,
        place.load.focus_of(place.filling), *_setting(place.setting),
        order.due.isoformat() if order.due else None, None,
    )  # fmt: skip


def _setting(setting: MarkSetting) -> Sequence[Cell]:
    return setting.name, setting.speed, setting.interval, setting.power, setting.passes


def _sheet_row(lookup: Lookup, sheet: CutSheet) -> Sequence[Cell]:
    stock, loads = lookup.stock[sheet.stock], lookup.loads_of(sheet)
    kept = lookup.kept(sheet)
    kerf = kept.kerf if kept else lookup.plan.job.machine.kerf.get(stock.material, 0.0)
    return (
        sheet.name, sheet.stock, stock.material, stock.thickness, stock.width, stock.height, kerf,
        len(sheet.pockets), round(100 * sheet.fill, 1), len(loads), sum(len(load.fillings) for load in loads),
        round(sheet.cut_path.beam, 1), round(sheet.cut_path.seconds),
        "yes" if sheet in lookup.plan.kept else None,
    )  # fmt: skip


def _pocket_row(sheet: CutSheet, pocket: Pocket) -> Sequence[Cell]:
    x0, y0, x1, y1 = pocket.outline.bounds
    place = (pocket.x, pocket.y, pocket.turn, x0, y0, x1 - x0, y1 - y0)
    return sheet.name, pocket.number, pocket.blank, *place
