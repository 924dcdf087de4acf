"""The check of markings: the artwork's drawing, where and as large as it should be, in the mark area."""

import math
from collections import Counter
from collections.abc import Sequence

import numpy as np
import shapely

from nesting.check.distances import same_course
from nesting.check.fit import rule_faults
from nesting.check.report import Findings
from nesting.check.solids import chain, polygon
from nesting.check.sweeps import FLAT_MM, is_thin, sweep_fault
from nesting.geometry.contour import Contour
from nesting.job.job import Artwork, Blank, MarkSetting
from nesting.plan_values import Marking, Part, Plan


def check_markings(plan: Plan, findings: Findings) -> None:
    """Check every marking of a plan."""
    findings.count(markings=len(plan.markings))
    blanks = {blank.name: blank for blank in plan.job.blanks}
    artworks = {artwork.name: artwork for artwork in plan.job.artworks}
    settings = {setting.name: setting for setting in plan.job.settings}
    for name, count in Counter(marking.name for marking in plan.markings).items():
        if count > 1:
            findings.add("marking", f"marking {name}", f"{count} have this name; name each differently")
    for marking in plan.markings:
        place = f"marking {marking.name}"
        blank, artwork = blanks.get(marking.blank), artworks.get(marking.artwork)
        if blank is None or artwork is None:
            missing = f"blank {marking.blank!r}" if blank is None else f"artwork {marking.artwork!r}"
            findings.add("artwork", place, f"the job has no {missing}")
            continue
        if not _well_formed(marking, place, findings):
            continue
        for fault in rule_faults(marking, artwork, blank.mark_area):
            findings.add("marking", place, fault)
        _check_parts(marking, artwork, place, findings)
        _check_area(marking, blank, place, findings)
        _check_sweeps(marking, settings.get(blank.setting), place, findings)


def _well_formed(marking: Marking, place: str, findings: Findings) -> bool:
    """Check what the other checks of a marking rely on."""
    sound = True
    if not all(map(math.isfinite, (marking.scale, marking.turn, marking.x, marking.y))) or marking.scale <= 0:
        findings.add("number", place, "scale, turn, x and y must be finite, and the scale above 0")
        sound = False
    for k, part in enumerate(marking.parts):
        if not part.contours or (part.kind == "line" and len(part.contours) > 1):
            found = f"a {part.kind} of {len(part.contours)} contours; a line has one, a fill one or more"
            findings.add("marking", f"{place}, part {k}", found)
            sound = False
    return sound


def _check_parts(marking: Marking, artwork: Artwork, place: str, findings: Findings) -> None:
    """Check that the parts are the drawing, scaled, turned and shifted as the marking says."""
    shapes = artwork.drawing.shapes
    wanted = [Part("line", (contour,)) for shape in shapes if shape.stroked for contour in shape.contours]
    wanted += [Part("fill", shape.contours, shape.rule) for shape in shapes if shape.filled]
    left = list(marking.parts)
    for part in wanted:
        drawn = tuple(_placed(contour, marking) for contour in part.contours)
        found = next((k for k, other in enumerate(left) if _is_same(other, part, drawn)), None)
        if found is not None:
            left.pop(found)
        elif part.kind == "line" or not is_thin(Part("fill", drawn, part.rule)):
            findings.add("marking", place, f"a {part.kind} of the drawing is missing or elsewhere; redo it")
    for part in left:
        findings.add("marking", place, f"a {part.kind} is no part of the drawing; drop it")


def _placed(contour: Contour, marking: Marking) -> Contour:
    """Bring a contour of the drawing onto the blank."""
    spin = marking.scale * np.exp(1j * math.radians(marking.turn))
    shift = complex(marking.x, marking.y)
    places = [(complex(x, y) * spin + shift, bulge) for x, y, bulge in contour.vertices]
    return Contour(tuple((place.real, place.imag, bulge) for place, bulge in places), contour.closed)


def _is_same(part: Part, wanted: Part, drawn: Sequence[Contour]) -> bool:
    """Tell whether a part is what is wanted; a fill's contours are closed, as the SVG standard fills them."""
    if part.kind != wanted.kind or len(part.contours) != len(drawn):
        return False
    if part.kind == "fill":
        drawn = [Contour(contour.vertices) for contour in drawn]
        found = [Contour(contour.vertices) for contour in part.contours]
        return part.rule == wanted.rule and all(map(same_course, found, drawn))
    return same_course(part.contours[0], drawn[0])


def _check_area(marking: Marking, blank: Blank, place: str, findings: Findings) -> None:
    """Check that everything drawn lies in the blank's mark area."""
    area = polygon(blank.mark_area).buffer(FLAT_MM)
    shapely.prepare(area)
    for k, part in enumerate(marking.parts):
        lines = [_line(contour, closed=part.kind == "fill" or contour.closed) for contour in part.contours]
        if not all(area.covers(line) for line in lines):
            found = f"part {k} leaves the mark area of {blank.name}; scale or move it"
            findings.add("mark-area", place, found)


def _line(contour: Contour, *, closed: bool) -> shapely.LineString:
    points = chain(contour)
    return shapely.LineString(np.vstack([points, points[:1]]) if closed else points)


def _check_sweeps(marking: Marking, setting: MarkSetting | None, place: str, findings: Findings) -> None:
    for k, part in enumerate(marking.parts):
        if part.kind == "line":
            fault = "a line has no sweeps; drop them" if part.sweeps else None
        elif setting is None:
            fault = "its blank has no mark setting; name one"
        else:
            fault = sweep_fault(part, setting.interval)
        if fault:
            findings.add("sweep", f"{place}, part {k}", fault)
