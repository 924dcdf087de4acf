"""The check of loads: what lies where, with which artwork, at which height."""

import math
from collections import Counter

import numpy as np

from nesting.check.focus import check_focus, focus_fault
from nesting.check.letters import asked_text
from nesting.check.paths import Key, check_path, origin_of
from nesting.check.report import Findings
from nesting.check.sharing import check_sharing
from nesting.check.stretch import Stretch, stretch_on_sheet
from nesting.check.traces import check_load_trace
from nesting.job.job import OrderLine
from nesting.plan_values import CutSheet, Filling, Load, Marking, Plan, Pocket


def check_loads(plan: Plan, findings: Findings) -> None:
    """Check every load, and that every unit wanted is in one of them or counted as unplaced."""
    numbers = [load.number for load in plan.loads]
    if sorted(numbers) != list(range(1, len(numbers) + 1)):
        findings.add("load", "loads", f"they are numbered {numbers}; number them 1 to {len(numbers)}")
    if plan.job.sheet_use == "once":
        _check_used_once(plan, findings)
    sheets = {sheet.name: sheet for sheet in plan.all_sheets}
    for load in plan.loads:
        findings.count(loads=1, units=len(load.fillings))
        if load.sheet in sheets:
            _LoadCheck(plan, load, sheets[load.sheet], findings).run()
        else:
            findings.add("load", f"load {load.number}", f"there is no sheet {load.sheet!r}")
    _check_units(plan, findings)
    check_sharing(plan, findings)


def _check_used_once(plan: Plan, findings: Findings) -> None:
    """Check that no pocket is filled again in a later load."""
    filled = Counter((load.sheet, f.pocket) for load in plan.loads for f in load.fillings)
    for (sheet, pocket), count in filled.items():
        if count > 1:
            place = f"sheet {sheet}, pocket {pocket}"
            findings.add("load", place, f"filled {count} times; every unit gets a pocket of its own")


def _check_units(plan: Plan, findings: Findings) -> None:
    """Check that each unit of each order line is loaded once or counted as unplaced."""
    loaded = Counter((f.unit.line, f.unit.number) for load in plan.loads for f in load.fillings)
    unplaced: Counter[str] = Counter()
    for name, count in plan.unplaced:
        unplaced[name] += count
        if count < 1 or name not in {order.name for order in plan.job.orders}:
            findings.add("unit", f"unplaced {name}", f"found {count}; allowed: an order line and 1 or more")
    lines = {order.name: order for order in plan.job.orders}
    for (line, number), count in loaded.items():
        if line not in lines or number not in lines[line].unit_numbers:
            findings.add("unit", f"unit {number} of {line}", "the orders have no such unit; take it out")
        elif count > 1:
            findings.add("unit", f"unit {number} of {line}", f"loaded {count} times; load it once")
    placed = Counter(line for line, number in loaded if line in lines and number in lines[line].unit_numbers)
    for line, order in lines.items():
        if order.numbers and len({number for number in order.numbers if number > 0}) != order.quantity:
            findings.add(
                "unit", f"order line {line}", f"its units are not {order.quantity} different numbers"
            )
        there = placed[line]
        if there + unplaced[line] != order.quantity:
            found = f"{there} loaded and {unplaced[line]} unplaced; ordered: {order.quantity}"
            findings.add("unit", f"order line {line}", found)


class _LoadCheck:
    """Checks one load of one sheet."""

    def __init__(self, plan: Plan, load: Load, sheet: CutSheet, findings: Findings) -> None:
        self._plan, self._load, self._sheet, self._findings = plan, load, sheet, findings
        self._blanks = {blank.name: blank for blank in plan.job.blanks}
        self._artworks = {artwork.name: artwork for artwork in plan.job.artworks}
        self._orders = {order.name: order for order in plan.job.orders}
        self._markings = {marking.name: marking for marking in plan.markings}
        self._pockets = {pocket.number: pocket for pocket in sheet.pockets}

    def run(self) -> None:
        """Check the fillings, then the mark path."""
        filled = Counter(filling.pocket for filling in self._load.fillings)
        for number, count in filled.items():
            if count > 1:
                self._findings.add("load", self._place(number), f"holds {count} units; a pocket holds one")
        if not self._load.fillings:
            self._findings.add("load", f"load {self._load.number}", "nothing is in it; leave it out")
        for filling in self._load.fillings:
            self._check_filling(filling)
        check_focus(self._load, self._plan.job.machine, self._findings)
        self._check_mark_path()

    def _check_filling(self, filling: Filling) -> None:
        place = self._place(filling.pocket)
        if filling.pocket not in self._pockets:
            self._findings.add("load", place, f"sheet {self._sheet.name} has no such pocket")
            return
        order, blank = (
            self._orders.get(filling.unit.line),
            self._blanks.get(self._pockets[filling.pocket].blank),
        )
        if order is None or blank is None:
            return
        if order.blank != blank.name:
            found = f"unit {filling.unit.number} of {order.name} is a {order.blank}"
            self._findings.add("unit", place, f"{found}; the pocket takes a {blank.name}")
        fault = focus_fault(blank, self._plan.job.machine, self._load.focus_of(filling))
        if fault is not None:
            self._findings.add("height", place, fault)
        self._check_artwork(filling, order, place)

    def _check_artwork(self, filling: Filling, order: OrderLine, place: str) -> None:
        """Check that the marking is the order line's artworks, with its texts, on the order line's blank."""
        name = f"unit {filling.unit.number} of {order.name}"
        if filling.marking is not None and filling.marking not in self._markings:
            self._findings.add("artwork", place, f"there is no marking {filling.marking!r}")
            return
        marking = self._markings[filling.marking] if filling.marking is not None else None
        artworks = marking.artworks if marking else ()
        if artworks != order.artworks:
            found = " + ".join(artworks) or None
            self._findings.add("artwork", place, f"{name} gets {found!r}; ordered: {order.artwork!r}")
            return
        for placed in marking.placed if marking else ():
            text = asked_text(self._artworks.get(placed.artwork), order)
            if placed.text != text:
                found = f"{name} gets the text {placed.text!r} of {placed.artwork}; ordered: {text!r}"
                self._findings.add("artwork", place, found)
        if marking and marking.blank != order.blank:
            found = f"{name} gets a marking for a {marking.blank}; it is a {order.blank}"
            self._findings.add("artwork", place, found)

    def _check_mark_path(self) -> None:
        stretches: dict[Key, Stretch] = {}
        marked: list[tuple[int, Marking]] = []
        for filling in self._load.fillings:
            pocket = self._pockets.get(filling.pocket)
            marking = self._markings.get(filling.marking or "")
            if pocket and marking:
                stretches |= self._stretches(pocket, marking)
                marked.append((pocket.number, marking))
        check_load_trace(self._load, self._sheet, marked, self._findings)
        stock = self._plan.job.all_stock.get(self._sheet.stock)
        if stock is not None:
            machine = self._plan.job.machine
            origin = origin_of(machine, stock)
            place = f"load {self._load.number}, mark path"
            check_path(self._load.mark_path, stretches, origin, machine, place, self._findings)

    def _stretches(self, pocket: Pocket, marking: Marking) -> dict[Key, Stretch]:
        blank = self._blanks.get(marking.blank)
        setting = next((s for s in self._plan.job.settings if blank and s.name == blank.setting), None)
        name, passes = (setting.name, setting.passes) if setting else ("", 1)
        shift, spin = complex(pocket.x, pocket.y), complex(np.exp(1j * math.radians(pocket.turn)))
        return {
            (pocket.number, k): stretch_on_sheet(part, shift, spin, name, passes)
            for k, part in enumerate(marking.parts)
        }

    def _place(self, pocket: int) -> str:
        return f"load {self._load.number}, pocket {pocket}"
