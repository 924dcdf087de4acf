"""The check of kept sheets: that their pockets are those that are there, and fit what is put into them."""

import numpy as np
import shapely
from shapely.affinity import rotate, translate
from shapely.geometry.base import BaseGeometry

from nesting.check.distances import SAME_MM
from nesting.check.report import Findings
from nesting.check.rules import check_pairs
from nesting.check.seats import LARGE_MM, united, wanted_hole
from nesting.check.sheets import check_fill, check_kind, check_place
from nesting.check.solids import Solids, chain, placed_solid
from nesting.check.traces import check_sheet_trace
from nesting.geometry.region import Region
from nesting.job.job import Blank, KeptPocket, KeptSheet
from nesting.plan_values import CutSheet, Plan, Pocket

PLAY_MM = 0.1
"""A kept pocket may be so much off the hole that a blank would get; never smaller than the blank."""

GAP_MM = 0.01
"""So much may be missing of the gap between blanks in kept pockets."""

THICKNESS_MM = 0.05
"""How a body lies on its pocket's edges is right for a sheet as thick as the stock, to this."""


def check_kept_sheets(plan: Plan, findings: Findings) -> None:
    """Check every kept sheet that a plan loads."""
    kept = {sheet.name: sheet for sheet in plan.job.kept}
    for sheet in plan.kept:
        findings.count(kept=1)
        if sheet.stock not in kept:
            findings.add("sheet", f"sheet {sheet.name}", f"the job knows of no kept sheet {sheet.stock!r}")
            continue
        check_kind(kept[sheet.stock].stock, 1, plan.job, findings)
        check_sheet_trace(sheet, kept[sheet.stock].stock, findings)
        _KeptCheck(plan, sheet, kept[sheet.stock], findings).run()


class _KeptCheck:
    """Checks how one kept sheet is filled."""

    def __init__(self, plan: Plan, sheet: CutSheet, kept: KeptSheet, findings: Findings) -> None:
        self._sheet, self._kept, self._findings = sheet, kept, findings
        self._blanks = {blank.name: blank for blank in plan.job.blanks}
        self._there = {pocket.number: pocket for pocket in kept.pockets}
        self._place = f"sheet {sheet.name}"
        thickness = kept.stock.thickness
        self._as_thick = any(abs(s.thickness - thickness) <= THICKNESS_MM for s in plan.job.stock)

    def run(self) -> None:
        """Check that nothing is cut, the pockets, and the gaps between what lies in them."""
        if self._sheet.cut_path.steps or self._sheet.outline_path or self._sheet.marks:
            self._findings.add("path", self._place, "a kept sheet is cut already; drop its path and marks")
        numbers = [pocket.number for pocket in self._sheet.pockets]
        if len(set(numbers)) < len(numbers):
            self._findings.add("pocket", self._place, f"pockets are numbered {numbers}; name each once")
        known = [p for p in self._sheet.pockets if check_place(p, self._blanks, self._place, self._findings)]
        for pocket in known:
            self._check_pocket(pocket, f"{self._place}, pocket {pocket.number}")
        if not known:
            return
        check_fill(self._sheet, known, self._blanks, self._kept.stock, self._findings)
        footprints = [
            placed_solid(Region(self._blanks[p.blank].footprint.outer), p.x, p.y, p.turn) for p in known
        ]
        gaps = np.array([max(self._blanks[p.blank].gap - GAP_MM, 0.0) for p in known])
        names = [f"pocket {pocket.number}" for pocket in known]
        check_pairs("gap", Solids(footprints), gaps, names, self._place, self._findings)

    def _check_pocket(self, pocket: Pocket, place: str) -> None:
        there = self._there.get(pocket.number)
        if there is None:
            self._findings.add("pocket", place, f"kept sheet {self._kept.name} has no such pocket")
        elif there.outline != pocket.outline or there.notches != pocket.notches or pocket.path:
            self._findings.add("pocket", place, "not the pocket that is there; take that one over")
        elif not there.free:
            self._findings.add("pocket", place, "it is not free; use another pocket")
        elif fault := self._fit_fault(there, pocket, self._blanks[pocket.blank]):
            self._findings.add("clearance", place, f"{pocket.blank} {fault}; use another pocket")

    def _fit_fault(self, there: KeptPocket, pocket: Pocket, blank: Blank) -> str | None:
        """Say why a blank does not fit a pocket that is there."""
        solid, thickness = blank.solid, self._kept.stock.thickness
        rests = solid is not None and solid.pocket_width is not None
        if rests and not self._as_thick:
            return f"lies at another height in a sheet {thickness:g} mm thick"
        if solid is not None and solid.seat(thickness) is None:
            return f"lies above the face of a sheet {thickness:g} mm thick"
        wanted = _lying(wanted_hole(blank, thickness), pocket)
        found = shapely.Polygon(chain(there.outline.outer))
        room = SAME_MM if solid is None else LARGE_MM
        play = PLAY_MM if rests else min(PLAY_MM, blank.clearance)
        if not found.buffer(2 * room).covers(wanted.buffer(-play)):
            return "has too little play in it"
        if not united(wanted.buffer(PLAY_MM + 2 * room), there.notches).buffer(SAME_MM).covers(found):
            return "has too much play in it"
        return None


def _lying(shape: BaseGeometry, pocket: Pocket) -> BaseGeometry:
    return translate(rotate(shape, pocket.turn, origin=(0, 0)), pocket.x, pocket.y)
