"""The check of the marks on a sheet: off all that is cut, beside their pocket, telling a turned sheet."""

import numpy as np
import shapely

from nesting.check.report import Findings
from nesting.check.solids import chain, polygon
from nesting.geometry.region import Region
from nesting.job.job import Job, Stock
from nesting.plan_values import CutSheet, SheetMark

_ROOM_MM = 0.01
_TURN = 1e-6
_LEAST_MOVE = 1.0


def check_sheet_marks(sheet: CutSheet, stock: Stock, job: Job, findings: Findings) -> None:
    """Check the marks of a sheet; what found no place is no fault."""
    place = f"sheet {sheet.name}, marks"
    if sheet.marks and job.sheet_marks is None:
        findings.add("marking", place, "the job asks for no marks on the sheet; drop them")
    corners = [v for mark in sheet.marks for line in mark.lines for v in line.vertices]
    if not np.isfinite(np.array(corners, dtype=float)).all() or not np.isfinite(sheet.marks_seconds):
        findings.add("number", place, "places and time must be finite")
        return
    holes = {p.number: polygon(Region(p.outline.outer)) for p in sheet.pockets}
    outline, out = polygon(stock.region), shapely.union_all([polygon(area) for area in stock.keep_outs])
    cut = shapely.union_all(list(holes.values()))
    for mark in sheet.marks:
        lines = _lines(mark)
        name = f"{place}, {mark.kind} {mark.pocket}" if mark.pocket else f"{place}, {mark.kind}"
        if not outline.covers(lines):
            findings.add("marking", name, "it leaves the sheet; move it in")
        if cut.distance(lines) < _ROOM_MM or (not out.is_empty and out.distance(lines) < _ROOM_MM):
            findings.add("marking", name, "it meets a pocket or a keep-out; move it away")
        if mark.kind in ("number", "arrow"):
            nearest = min(holes, key=lambda number: holes[number].distance(lines), default=0)
            if nearest != mark.pocket and holes[nearest].distance(lines) < _own(holes, mark, lines):
                findings.add("marking", name, f"pocket {nearest} is nearer; move it to its own")
    _check_arrows(sheet, place, findings)
    _check_fiducials(sheet, stock, place, findings)


def _own(holes: dict[int, shapely.Polygon], mark: SheetMark, lines: shapely.MultiLineString) -> float:
    # a number and its arrow share a place, so one of them may be up to its size further away
    x0, y0, x1, y1 = lines.bounds
    return holes[mark.pocket].distance(lines) - 3 * max(x1 - x0, y1 - y0) if mark.pocket in holes else np.inf


def _check_arrows(sheet: CutSheet, place: str, findings: Findings) -> None:
    turns = {pocket.number: pocket.turn for pocket in sheet.pockets}
    for mark in sheet.marks:
        if mark.kind == "arrow" and mark.pocket in turns:
            (x0, y0, _), (x1, y1, _) = mark.lines[0].vertices[0], mark.lines[0].vertices[-1]
            way = complex(x1 - x0, y1 - y0) * np.exp(-1j * np.radians(turns[mark.pocket] + 90))
            if abs(np.angle(way)) > _TURN:
                findings.add(
                    "marking", f"{place}, arrow {mark.pocket}", "it points another way than its blank"
                )


def _check_fiducials(sheet: CutSheet, stock: Stock, place: str, findings: Findings) -> None:
    boxes = [_lines(mark).bounds for mark in sheet.marks if mark.kind == "fiducial"]
    spots = np.array([complex((x0 + x1) / 2, (y0 + y1) / 2) for x0, y0, x1, y1 in boxes])
    if not len(spots):
        return
    far = complex(stock.width, stock.height)
    images = (far - spots, far.real - spots.conj(), far.imag * 1j + spots.conj())
    for image in images:
        if np.abs(spots[:, None] - image).min(axis=1).max() < _LEAST_MOVE:
            findings.add("marking", place, "the fiducials look the same on a turned or flipped sheet")
            return


def _lines(mark: SheetMark) -> shapely.MultiLineString:
    rings = [(chain(line), line.closed) for line in mark.lines]
    return shapely.MultiLineString([np.vstack([p, p[:1]]) if closed else p for p, closed in rings])
