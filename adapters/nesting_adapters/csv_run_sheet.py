"""Writes the run sheet and the list of sheets to cut as CSV (RFC 4180, UTF-8)."""

import csv
import io
from collections.abc import Iterable, Sequence

from nesting.job.job import MarkSetting
from nesting.plan_values import CutSheet, Plan
from nesting_adapters.plan_lookup import Lookup, Place

RUN_SHEET = (
    "load", "sheet", "pocket", "blank", "order line", "unit", "artwork", "texts", "turn (degrees)",
    "focus height (mm)", "setting", "speed (mm/s)", "interval (mm)", "power (%)", "passes", "due", "done",
)  # fmt: skip
CUT_LIST = (
    "sheet", "stock", "material", "thickness (mm)", "width (mm)", "height (mm)", "kerf (mm)", "pockets",
    "fill (%)", "loads", "units", "cut length (mm)", "estimated cut time (s)",
)  # fmt: skip


class CsvRunSheetWriter:
    """``run-sheet.csv`` has a row for each unit, ``sheets.csv`` one for each sheet to cut."""

    summary = "run-sheet.csv and sheets.csv: every unit with its pocket, every sheet to cut"

    def files(self, plan: Plan) -> dict[str, bytes]:
        """Make both files."""
        lookup = Lookup(plan)
        units = [_unit_row(place) for load in plan.loads for place in lookup.places(load)]
        sheets = [_sheet_row(lookup, sheet) for sheet in plan.sheets]
        return {"run-sheet.csv": _table(RUN_SHEET, units), "sheets.csv": _table(CUT_LIST, sheets)}


def texts_in_words(texts: dict[str, str]) -> str:
    """Write an order line's texts in one cell.

    >>> texts_in_words({"name": "Ada", "year": "1843"})
    'name: Ada; year: 1843'
    """
    return "; ".join(f"{key}: {value}" for key, value in texts.items())


def _unit_row(place: Place) -> Sequence[object]:
    order = place.order
    return (
        place.load.number, place.sheet.name, place.pocket.number, place.blank.name, order.name,
        place.filling.unit.number, order.artwork or "", texts_in_words(order.texts),
        _figure(place.pocket.turn), _figure(place.load.focus_height), *_setting(place.setting),
        order.due or "", "",
    )  # fmt: skip


def _setting(setting: MarkSetting) -> Sequence[object]:
    power = "" if setting.power is None else _figure(setting.power)
    return setting.name, _figure(setting.speed), _figure(setting.interval), power, setting.passes


def _sheet_row(lookup: Lookup, sheet: CutSheet) -> Sequence[object]:
    stock, loads = lookup.stock[sheet.stock], lookup.loads_of(sheet)
    kerf = lookup.plan.job.machine.kerf.get(stock.material, 0.0)
    return (
        sheet.name, stock.name, stock.material, _figure(stock.thickness), _figure(stock.width),
        _figure(stock.height), _figure(kerf), len(sheet.pockets), f"{100 * sheet.fill:.1f}", len(loads),
        sum(len(load.fillings) for load in loads), f"{sheet.cut_path.beam:.1f}",
        f"{sheet.cut_path.seconds:.0f}",
    )  # fmt: skip


def _figure(value: float) -> str:
    """Write a number to 1 µm without needless digits."""
    return f"{value:.3f}".rstrip("0").rstrip(".")


def _table(heading: Sequence[str], rows: Iterable[Sequence[object]]) -> bytes:
    # the csv module's own dialect is that of RFC 4180: CRLF, quotes where needed, quotes doubled
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow(heading)
    writer.writerows(rows)
    return text.getvalue().encode()
