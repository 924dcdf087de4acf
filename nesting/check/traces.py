"""The check of traces: they lead round the sheet, and round all marks of a load."""

import math
from collections.abc import Sequence

import numpy as np
import shapely

from nesting.check.distances import Places
from nesting.check.report import Findings
from nesting.check.solids import chain
from nesting.job.job import Stock
from nesting.plan_values import CutSheet, Load, Marking, Trace

_ROOM_MM = 0.2
"""An outline is traced to 0.1 mm."""


def check_sheet_trace(sheet: CutSheet, stock: Stock, findings: Findings) -> None:
    """Check that a sheet's trace follows its outline; a plan of an older version has none."""
    points = sheet.trace.points
    place = f"sheet {sheet.name}, trace"
    if not points or not _is_sound(sheet.trace, place, findings):
        return
    edge = shapely.Polygon(chain(stock.region.outer)).exterior
    if len(points) < 3 or shapely.hausdorff_distance(shapely.LinearRing(points), edge, 0.05) > _ROOM_MM:
        findings.add("path", place, "it does not follow the sheet's outline; make it again")


def check_load_trace(
    load: Load, sheet: CutSheet, markings: Sequence[tuple[int, Marking]], findings: Findings
) -> None:
    """Check that a load's trace is the rectangle round what is marked, by pocket number and marking."""
    place = f"load {load.number}, trace"
    if not load.trace.points or not _is_sound(load.trace, place, findings):
        return
    pockets = {pocket.number: pocket for pocket in sheet.pockets}
    corners = []
    for number, marking in markings:
        pocket = pockets[number]
        spin = np.exp(1j * np.radians(pocket.turn))
        for part in marking.parts:
            for contour in part.contours:
                ring = chain(contour)
                ends = (ring[:, 0] + 1j * ring[:, 1]) * spin + complex(pocket.x, pocket.y)
                corners += [ends.real.min() + 1j * ends.imag.min(), ends.real.max() + 1j * ends.imag.max()]
    found = np.array(load.trace.points) @ np.array([1, 1j])
    if not corners or math.dist(_box(np.array(corners)), _box(found)) > _ROOM_MM:
        findings.add("path", place, "it does not lead round the marks; make it again")


def _box(points: Places) -> tuple[float, ...]:
    sides = points.real.min(), points.imag.min(), points.real.max(), points.imag.max()
    return tuple(map(float, sides))


def _is_sound(trace: Trace, place: str, findings: Findings) -> bool:
    if np.isfinite(trace.points).all() and np.isfinite(trace.seconds) and trace.seconds >= 0:
        return True
    findings.add("number", place, "its points and time must be finite, the time from 0")
    return False
