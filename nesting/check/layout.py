"""The check of a layout: geometry, quantities and the bound."""

import math
from collections import Counter
from dataclasses import replace

import numpy as np

from nesting.check.report import Findings, Report
from nesting.check.rules import add_near_edge, check_pairs, on_grid, turn_allowed
from nesting.check.solids import TOLERANCE_MM, Solid, Solids, placed_solid, polygon
from nesting.packing.problem import Item, Sheet
from nesting.packing.result import Layout, Placement


def check_layout(layout: Layout) -> Report:
    """Check where everything lies, to 1 µm, with code that shares nothing with the engines.

    Parameters
    ----------
    layout
        The answer to a packing problem, whichever engine gave it.

    Returns
    -------
    Every violation found; `nesting.check` lists their kinds.

    Examples
    --------
    >>> from nesting.packing.problem import Footprint, Item, Problem, Sheet
    >>> fob, sheet = Item("fob", Footprint.rectangle(30, 60), quantity=2), Sheet(100, 100)
    >>> apart = (Placement("fob", 0, 0, 0, 0), Placement("fob", 0, 30, 0, 0))
    >>> print(check_layout(Layout(Problem((fob,), (sheet,)), (sheet,), apart, bound=1)))
    sound: 1 sheets, 2 placements checked
    >>> close = (apart[0], Placement("fob", 0, 29.5, 0, 0))
    >>> print(check_layout(Layout(Problem((fob,), (sheet,)), (sheet,), close, bound=1)))
    overlap: sheets[0], placements[0] (fob) and placements[1] (fob): they overlap; move them apart
    """
    findings = Findings()
    findings.count(sheets=len(layout.sheets), placements=len(layout.placements))
    items = {item.name: item for item in layout.problem.items}
    _check_quantities(layout, items, findings)
    _check_sheets(layout, findings)
    sound = [k for k in range(len(layout.placements)) if _check_placement(layout, items, k, findings)]
    for sheet in range(len(layout.sheets)):
        _check_sheet(
            layout, items, sheet, [k for k in sound if layout.placements[k].sheet == sheet], findings
        )
    if len(sound) == len(layout.placements):
        _check_bound(layout, _value(layout, items), findings)
    return findings.report()


def _check_quantities(layout: Layout, items: dict[str, Item], findings: Findings) -> None:
    placed = Counter(placement.item for placement in layout.placements)
    for name, count in placed.items():
        if name not in items:
            findings.add(
                "quantity", f"item {name}", f"placed {count} times, but the problem has no such item"
            )
        elif count > items[name].quantity:
            wanted = items[name].quantity
            findings.add("quantity", f"item {name}", f"placed {count} times; wanted: {wanted}; drop the rest")


def _check_sheets(layout: Layout, findings: Findings) -> None:
    """Check that every sheet is in stock, often enough, and used."""
    roll = layout.problem.objective == "length"
    stock = Counter[Sheet]()
    for sheet in layout.problem.sheets:
        stock[sheet] += len(layout.sheets) + 1 if sheet.quantity is None else sheet.quantity
    used = {placement.sheet for placement in layout.placements}
    for k, sheet in enumerate(layout.sheets):
        kind = replace(sheet, height=None) if roll else sheet
        stock[kind] -= 1
        if stock[kind] < 0:
            findings.add("sheet", f"sheets[{k}]", f"no sheet {sheet.name!r} of this kind is left in stock")
        if k not in used and not roll:
            findings.add("sheet", f"sheets[{k}]", "nothing lies on it; leave it out")
    if roll and len(layout.sheets) > 1:
        findings.add("sheet", "sheets", f"{len(layout.sheets)} lengths of roll; a roll is used in one length")


def _check_placement(layout: Layout, items: dict[str, Item], k: int, findings: Findings) -> bool:
    """Check one placement by itself; tell whether its geometry can be looked at."""
    placement = layout.placements[k]
    place = f"placements[{k}] ({placement.item})"
    if not all(map(math.isfinite, (placement.x, placement.y, placement.turn))):
        findings.add("number", place, f"x, y and turn must be finite, not {placement}")
        return False
    if placement.item not in items:
        return False
    if not 0 <= placement.sheet < len(layout.sheets):
        findings.add("sheet", place, f"lies on sheet {placement.sheet}; there are {len(layout.sheets)}")
        return False
    _check_turn(items[placement.item], placement, place, findings)
    if not (on_grid(placement.x) and on_grid(placement.y)):
        findings.add("grid", place, f"({placement.x!r}, {placement.y!r}) is off the 1 µm grid; round it")
    return True


def _check_turn(item: Item, placement: Placement, place: str, findings: Findings) -> None:
    if item.turns != "any" and not turn_allowed(placement.turn, item.turns):
        allowed = ", ".join(f"{turn:g}" for turn in item.turns)
        findings.add("turn", place, f"turned by {placement.turn:g}°; allowed: {allowed}")
    if placement.mirrored and not item.mirror:
        findings.add("mirror", place, "its mirror image lies here, which is not allowed; turn it over")


def _check_sheet(
    layout: Layout, items: dict[str, Item], k: int, placed: list[int], findings: Findings
) -> None:
    """Check what lies on one sheet against its edge, its keep-outs and each other."""
    if not placed:
        return
    sheet, placements = layout.sheets[k], [layout.placements[i] for i in placed]
    names = [f"placements[{i}] ({layout.placements[i].item})" for i in placed]
    solids = Solids([_solid(items, placement) for placement in placements])
    gaps = np.array([items[p.item].gap for p in placements])
    check_pairs("gap", solids, gaps, names, f"sheets[{k}]", findings)
    held = Solids([_solid(items, placement, held=True) for placement in placements])
    for i, clear in _near_edge(held, sheet):
        add_near_edge("margin", clear, sheet.margin, f"sheets[{k}], {names[i]}", findings)
    for number, keep_out in enumerate(sheet.keep_outs):
        for i in solids.entering(polygon(keep_out)):
            findings.add("keep-out", f"sheets[{k}], {names[i]}", f"enters keep_outs[{number}]; move it out")


def _near_edge(solids: Solids, sheet: Sheet) -> list[tuple[int, float]]:
    """Find what is too near to the edge: index and clear distance. A roll ends where the layout says."""
    if sheet.outline is not None:
        return solids.outside(polygon(sheet.outline), sheet.margin)
    far = (sheet.width, math.inf if sheet.height is None else sheet.height)
    clear = np.minimum(solids.boxes[:, :2], far - solids.boxes[:, 2:]).min(axis=1)
    return [(int(i), float(clear[i])) for i in np.flatnonzero(clear < sheet.margin - TOLERANCE_MM - 1e-9)]


def _value(layout: Layout, items: dict[str, Item]) -> float:
    """Count what the layout reaches: items placed, or else length of roll, cost, or sheets."""
    if layout.objective == "placed":
        return len(layout.placements)
    if layout.objective == "length":
        solids = [_solid(items, placement) for placement in layout.placements]
        return float(Solids(solids).boxes[:, 3].max()) + layout.problem.sheets[0].margin
    if layout.objective == "cost":
        return math.fsum(sheet.cost or 0.0 for sheet in layout.sheets)
    return len(layout.sheets)


def _check_bound(layout: Layout, value: float, findings: Findings) -> None:
    """Check that the layout itself does not pass the bound that no layout passes."""
    if math.isnan(layout.bound):
        findings.add("number", "bound", "it is not a number")
        return
    most = layout.objective == "placed"
    room = TOLERANCE_MM if layout.objective == "length" else 1e-6 * max(1.0, abs(layout.bound))
    if (value - layout.bound if most else layout.bound - value) > room:
        found = (
            f"{'at most' if most else 'at least'} {layout.bound:g} is claimed, but this layout has {value:g}"
        )
        findings.add("bound", "bound", f"{layout.objective}: {found}; the bound is wrong")


def _solid(items: dict[str, Item], placement: Placement, *, held: bool = False) -> Solid:
    item = items[placement.item]
    outline = item.edge if held and item.edge is not None else item.footprint
    return placed_solid(outline, placement.x, placement.y, placement.turn, placement.mirrored)
