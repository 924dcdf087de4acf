"""The check of the sheets of a plan: stock, bed, pockets, and the distances between them."""

from collections import Counter
from collections.abc import Sequence

import numpy as np

from nesting.check.pockets import PocketCheck
from nesting.check.report import Findings
from nesting.check.rules import add_near_edge, check_pairs, on_grid, turn_allowed
from nesting.check.sheet_marks import check_sheet_marks
from nesting.check.solids import Floats, Solids, placed_solid, polygon, turned_solid
from nesting.geometry.region import Region
from nesting.job.job import Blank, Job, Stock
from nesting.plan_values import CutSheet, Plan, Pocket

_FILL_ROOM = 1e-4
_FINE_MM = 1e-3


def check_sheets(plan: Plan, findings: Findings) -> None:
    """Check every sheet and the stock they are cut from."""
    _check_stock(plan, findings)
    stocks = {stock.name: stock for stock in plan.job.stock}
    blanks = {blank.name: blank for blank in plan.job.blanks}
    pocket_check = PocketCheck(findings)
    for sheet in plan.sheets:
        place = f"sheet {sheet.name}"
        findings.count(sheets=1, pockets=len(sheet.pockets))
        _check_numbers(sheet, place, findings)
        known = [pocket for pocket in sheet.pockets if check_place(pocket, blanks, place, findings)]
        if sheet.stock in stocks:
            stock = stocks[sheet.stock]
            _check_distances(known, blanks, stock, plan.job, place, findings)
            kerf = plan.job.machine.kerf.get(stock.material, 0.0)
            check_sheet_marks(sheet, stock, plan.job, findings)
            check_fill(sheet, known, blanks, stock, findings)
            for pocket in known:
                blank, where = blanks[pocket.blank], f"{place}, pocket {pocket.number}"
                pocket_check.check(pocket, blank, kerf, stock.thickness, where)


def _check_stock(plan: Plan, findings: Findings) -> None:
    """Check that sheets have names of their own, are in stock, fit the bed and are loaded."""
    used = Counter(sheet.stock for sheet in plan.sheets)
    names = Counter(sheet.name for sheet in plan.all_sheets)
    loaded = {load.sheet for load in plan.loads}
    for name, count in names.items():
        if count > 1:
            findings.add("sheet", f"sheet {name}", f"{count} sheets have this name; name each differently")
        if name not in loaded:
            findings.add("sheet", f"sheet {name}", "it is never loaded; leave it out")
    stocks = {stock.name: stock for stock in plan.job.stock}
    for name, count in used.items():
        if name not in stocks:
            findings.add("sheet", f"stock {name}", "the job has no such stock")
        else:
            check_kind(stocks[name], count, plan.job, findings)


def check_kind(stock: Stock, count: int, job: Job, findings: Findings) -> None:
    """Check that so many sheets of a kind are there, and fit the bed."""
    if stock.quantity is not None and count > stock.quantity:
        findings.add("sheet", f"stock {stock.name}", f"{count} sheets are cut; in stock: {stock.quantity}")
    bed = job.machine
    if stock.width > bed.bed_width + 1e-9 or stock.height > bed.bed_height + 1e-9:
        size, room = f"{stock.width:g} x {stock.height:g}", f"{bed.bed_width:g} x {bed.bed_height:g}"
        findings.add("sheet", f"stock {stock.name}", f"{size} mm does not fit the bed of {room} mm")


def _check_numbers(sheet: CutSheet, place: str, findings: Findings) -> None:
    numbers = sorted(pocket.number for pocket in sheet.pockets)
    if numbers != list(range(1, len(numbers) + 1)):
        findings.add("pocket", place, f"pockets are numbered {numbers}; number them 1 to {len(numbers)}")


def check_fill(
    sheet: CutSheet, pockets: list[Pocket], blanks: dict[str, Blank], stock: Stock, findings: Findings
) -> None:
    """Check the share of the sheet that its blanks cover."""
    areas = {name: polygon(blank.footprint).area for name, blank in blanks.items()}
    fill = sum(areas[pocket.blank] for pocket in pockets) / polygon(stock.region).area
    if not abs(sheet.fill - fill) <= _FILL_ROOM:
        findings.add("number", f"sheet {sheet.name}", f"fill is stated as {sheet.fill:.4f}; it is {fill:.4f}")


def check_place(pocket: Pocket, blanks: dict[str, Blank], place: str, findings: Findings) -> bool:
    """Check where a blank lies, by itself; tell whether its geometry can be looked at."""
    place = f"{place}, pocket {pocket.number}"
    if not np.isfinite([pocket.x, pocket.y, pocket.turn]).all():
        findings.add("number", place, "x, y and turn must be finite")
        return False
    if pocket.blank not in blanks:
        findings.add("pocket", place, f"the job has no blank {pocket.blank!r}")
        return False
    turns = blanks[pocket.blank].turns
    if not turn_allowed(pocket.turn, turns):
        allowed = ", ".join(f"{turn:g}" for turn in turns)
        findings.add("turn", place, f"{pocket.blank} is turned by {pocket.turn:g}°; allowed: {allowed}")
    if not (on_grid(pocket.x) and on_grid(pocket.y)):
        findings.add("grid", place, f"({pocket.x!r}, {pocket.y!r}) is off the 1 µm grid; round it")
    return True


def _check_overhang(
    boxes: Floats, over: Sequence[bool], stock: Stock, most: float, places: Sequence[str], findings: Findings
) -> None:
    """Check how far silhouettes that may do so reach beyond the edge of a rectangular sheet."""
    beyond = np.maximum(-boxes[:, :2], boxes[:, 2:] - (stock.width, stock.height)).max(axis=1)
    for may, reach, place in zip(over, beyond.tolist(), places, strict=True):
        if may and reach > most + _FINE_MM:
            found = f"reaches {reach:.3f} mm beyond the edge; the overhang is {most:g} mm; move it in"
            findings.add("margin", place, found)


def _check_distances(
    pockets: list[Pocket], blanks: dict[str, Blank], stock: Stock, job: Job, place: str, findings: Findings
) -> None:
    """Check what lies between blanks, between pockets, and between either and the edge or a keep-out."""
    if not pockets:
        return
    names, web = [f"pocket {pocket.number}" for pocket in pockets], job.web
    footprints = Solids([
        placed_solid(Region(blanks[p.blank].footprint.outer), p.x, p.y, p.turn) for p in pockets
    ])  # fmt: skip
    holes = Solids([turned_solid(Region(pocket.outline.outer), 0.0) for pocket in pockets])
    gaps = np.array([blanks[pocket.blank].gap for pocket in pockets])
    check_pairs("gap", footprints, gaps, names, place, findings)
    check_pairs("web", holes, np.full(len(pockets), web), names, place, findings)
    outline = polygon(stock.region)
    over = [job.overhang is not None and blanks[p.blank].solid is not None for p in pockets]
    for i, clear in footprints.outside(outline, stock.margin):
        if not over[i]:
            add_near_edge("margin", clear, stock.margin, f"{place}, {names[i]}", findings)
    for i, clear in holes.outside(outline, stock.margin):
        if over[i]:
            add_near_edge("margin", clear, stock.margin, f"{place}, the hole of {names[i]}", findings)
    places = [f"{place}, {name}" for name in names]
    _check_overhang(footprints.boxes, over, stock, job.overhang or 0.0, places, findings)
    for i, clear in holes.outside(outline, web):
        add_near_edge("web", clear, web, f"{place}, {names[i]}", findings)
    for number, keep_out in enumerate(stock.keep_outs):
        for i in holes.entering(polygon(keep_out)):
            findings.add("keep-out", f"{place}, {names[i]}", f"enters keep_outs[{number}]; move it out")
