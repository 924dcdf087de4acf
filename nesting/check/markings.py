"""The check of markings: each artwork as drawn, where and as large as it should be, in the mark area."""

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
import shapely

from nesting.body.body import Sphere
from nesting.check.cut import Room, as_drawing, cut_dots, cut_faults, outside_fault, pieces_of
from nesting.check.distances import SAME_MM, same_course
from nesting.check.dots import dots_fault, unswept_fault
from nesting.check.fit import rule_faults
from nesting.check.letters import letters_fault
from nesting.check.report import Findings
from nesting.check.rings import rings_fault
from nesting.check.solids import chain, polygon
from nesting.check.sweeps import FLAT_MM, is_thin, sweep_fault
from nesting.check.unrolled import WRAP_MM, Flattened, laid_flat, lies_on_body, steep_fault
from nesting.check.wrapped_dots import wrapped_dots_fault
from nesting.geometry.contour import Contour
from nesting.geometry.drawing import Drawing
from nesting.job.job import Artwork, Blank, Dots, Lettering, MarkSetting
from nesting.plan_values import Marking, Part, Placed, Plan


def check_markings(plan: Plan, findings: Findings) -> None:
    """Check every marking of a plan."""
    findings.count(markings=len(plan.markings))
    blanks = {blank.name: blank for blank in plan.job.blanks}
    settings = {setting.name: setting for setting in plan.job.settings}
    for name, count in Counter(marking.name for marking in plan.markings).items():
        if count > 1:
            findings.add("marking", f"marking {name}", f"{count} have this name; name each differently")
    for marking in plan.markings:
        place = f"marking {marking.name}"
        blank = blanks.get(marking.blank)
        if blank is None:
            findings.add("artwork", place, f"the job has no blank {marking.blank!r}")
            continue
        _check_placed(plan, marking, blank, settings.get(blank.setting), findings)


def _check_placed(
    plan: Plan, marking: Marking, blank: Blank, setting: MarkSetting | None, findings: Findings
) -> None:
    artworks = {artwork.name: artwork for artwork in plan.job.artworks}
    thickness = max((stock.thickness for stock in plan.job.stock), default=0.0)
    if not marking.placed:
        findings.add("marking", f"marking {marking.name}", "it has no artwork; leave it out")
    for placed in marking.placed:
        place = f"marking {marking.name}, {placed.artwork}"
        artwork = artworks.get(placed.artwork)
        if artwork is None:
            findings.add("artwork", place, f"the job has no artwork {placed.artwork!r}")
            continue
        if not _well_formed(placed, place, findings):
            continue
        interval = artwork.hatch.interval or (setting.interval if setting else None)
        for fault in _faults(placed, artwork, blank, interval, thickness):
            findings.add("marking", place, fault)
        _check_area(placed, blank, place, findings)
        _check_sweeps(placed, artwork, interval, place, findings)


def _well_formed(placed: Placed, place: str, findings: Findings) -> bool:
    """Check what the other checks of an artwork on its blank rely on."""
    sound = True
    if not all(map(math.isfinite, (placed.scale, placed.turn, placed.x, placed.y))) or placed.scale <= 0:
        findings.add("number", place, "scale, turn, x and y must be finite, and the scale above 0")
        sound = False
    for k, part in enumerate(placed.parts):
        if not part.contours or (part.kind != "fill" and len(part.contours) > 1):
            found = f"a {part.kind} of {len(part.contours)} contours; a fill has one or more, all else one"
            findings.add("marking", f"{place}, part {k}", found)
            sound = False
        if part.kind == "dots" and not part.sweeps:
            findings.add("marking", f"{place}, part {k}", "dots without a sweep; leave them out")
            sound = False
    return sound


def _faults(
    placed: Placed, artwork: Artwork, blank: Blank, interval: float | None, thickness: float
) -> Iterator[str]:
    """Say where an artwork on its blank is not as asked."""
    solid = blank.solid if artwork.wrap else None
    bent = solid is not None
    if placed.wrapped != bent:
        yield f"it must {'' if bent else 'not '}be measured along the surface; make it again"
    elif solid is None:
        yield from rule_faults(placed, artwork, blank.mark_area)
        if artwork.fit == "fill" and interval is not None and placed.parts:
            yield from _cut_faults(placed, artwork, Room.of(artwork, blank.mark_area), interval)
        elif artwork.fit != "fill":
            yield from _content_faults(placed, artwork, interval)
    elif isinstance(solid.body, Sphere):
        yield "it is wrapped round a sphere, which cannot be laid flat"
    elif placed.parts and not lies_on_body(placed, blank, thickness):
        yield "some of it lies beside the body; move it"
    elif placed.parts:
        flat, side = laid_flat(placed, blank, thickness)
        yield from rule_faults(flat, artwork, None)
        yield from _content_faults(flat, artwork, interval, side)
        if fault := steep_fault(placed, side, blank):
            yield fault
    else:
        yield "nothing is marked; mark it"


def _content_faults(
    placed: Placed, artwork: Artwork, interval: float | None, side: Flattened | None = None
) -> Iterator[str]:
    """Say where the parts are not what the artwork shows; wrapped ones come laid flat, with their side."""
    content, within = artwork.content, SAME_MM if side is None else WRAP_MM
    if not isinstance(content, Lettering) and placed.text is not None:
        yield f"it has the text {placed.text!r}, but its artwork is no text"
    if isinstance(content, Dots):
        if fault := _dots_fault(placed, placed.parts, content, interval, side):
            yield fault
    elif isinstance(content, Lettering):
        if fault := letters_fault(
            placed, content, filled_by_rings=artwork.hatch.pattern == "rings", within=within
        ):
            yield fault
    else:
        left = list(placed.parts)
        for dots in artwork.pictures:
            part = next((part for part in left if _is_frame(part, dots, placed, within)), None)
            if part is not None:
                left.remove(part)
            if fault := _dots_fault(placed, [part] if part else [], dots, interval, side):
                yield fault
        yield from _drawing_faults(replace(placed, parts=tuple(left)), artwork, content, interval, side)


def _cut_faults(placed: Placed, artwork: Artwork, room: Room, interval: float) -> Iterator[str]:
    """Say where the parts are not what the artwork shows, cut off at the outline of a room."""
    shown = as_drawing(artwork)
    if not isinstance(shown.content, Drawing):
        return
    if placed.text is not None:
        yield f"it has the text {placed.text!r}, but its artwork is no text"
    left = list(placed.parts)
    for dots in shown.pictures:
        pieces = pieces_of(left, on_blank(_frame(dots), placed), room)
        left = [part for part in left if not any(part is piece for piece in pieces)]
        sweeps = tuple(sweep for piece in pieces for sweep in piece.sweeps)
        joint = [replace(piece, sweeps=sweeps) for piece in pieces[:1]]
        if fault := outside_fault(sweeps, room):
            yield fault
        if fault := _dots_fault(placed, joint, cut_dots(dots, placed, room, interval), interval, None):
            yield fault
    if any(part.kind == "dots" for part in left):
        yield "a dots is no part of the drawing; drop it"
    drawn = [
        replace(part, contours=tuple(on_blank(contour, placed) for contour in part.contours))
        for part in _wanted(artwork, shown.content)
    ]
    yield from cut_faults(left, drawn, room, interval, rings=artwork.hatch.pattern == "rings")


def _dots_fault(
    placed: Placed, parts: Sequence[Part], dots: Dots, interval: float | None, side: Flattened | None
) -> str | None:
    if interval is None:
        return None
    if len(parts) > 1 or any(part.kind != "dots" for part in parts):
        return "a picture has one part, of dots; redo it"
    sweeps = np.array([sweep for part in parts for sweep in part.sweeps])
    if not len(sweeps):
        return unswept_fault(dots, placed.scale, interval)
    if side:
        return wrapped_dots_fault(placed, sweeps, dots, interval, side)
    return dots_fault(placed, sweeps, dots, interval)


def _drawing_faults(
    placed: Placed, artwork: Artwork, drawing: Drawing, interval: float | None, side: Flattened | None
) -> Iterator[str]:
    """Check that the parts are the drawing, mirrored, scaled, turned and shifted as stated."""
    within, spread = (WRAP_MM, side.spread) if side else (SAME_MM, 1.0)
    left, earlier = list(placed.parts), [part for part in placed.parts if part.kind == "fill"]
    areas = []
    for part in _wanted(artwork, drawing):
        drawn = tuple(on_blank(contour, placed) for contour in part.contours)
        if part.kind == "fill" and artwork.hatch.pattern == "rings":
            areas.append(Part("fill", drawn, part.rule))
            continue
        found = next((k for k, other in enumerate(left) if _is_same(other, part, drawn, within)), None)
        if found is not None:
            left.pop(found)
        elif part.kind == "line" or not is_thin(Part("fill", drawn, part.rule), earlier):
            yield f"a {part.kind} of the drawing is missing or elsewhere; redo it"
    if areas and interval:
        rings = [part for part in left if part.kind == "line"]
        left = [part for part in left if part.kind != "line"]
        if fault := rings_fault(rings, areas, interval, spread):
            yield fault
    for part in left:
        yield f"a {part.kind} is no part of the drawing; drop it"


def _is_frame(part: Part, dots: Dots, placed: Placed, within: float) -> bool:
    """Tell whether a part is of a picture, by its frame."""
    return part.kind == "dots" and same_course(part.contours[0], on_blank(_frame(dots), placed), within)


def _frame(dots: Dots) -> Contour:
    width, height = dots.picture.width, dots.picture.height
    corners = ((0, 0), (width, 0), (width, height), (0, height))
    return Contour(tuple((dots.x + x, dots.y + y, 0.0) for x, y in corners))


def _wanted(artwork: Artwork, drawing: Drawing) -> Iterator[Part]:
    """List what a drawing shows, in the drawing's coordinates, copies round a circle included."""
    shapes = [(s, tuple(_copies(s.contours, artwork, drawing))) for s in drawing.shapes]
    for shape, copies in shapes:
        if shape.stroked:
            yield from (Part("line", (contour,)) for contours in copies for contour in contours)
    for shape, copies in shapes:
        if shape.filled:
            yield from (Part("fill", contours, shape.rule) for contours in copies)


def _copies(
    contours: tuple[Contour, ...], artwork: Artwork, drawing: Drawing
) -> Iterator[tuple[Contour, ...]]:
    if artwork.around is None:
        yield contours
        return
    x0, y0, x1, y1 = drawing.bounds
    shift = 1j * artwork.around.radius - complex(x0 + x1, y0 + y1) / 2
    for k in range(artwork.around.count):
        spin = np.exp(-2j * math.pi * k / artwork.around.count)
        yield tuple(_spun(contour, spin, shift * spin) for contour in contours)


def on_blank(contour: Contour, placed: Placed) -> Contour:
    """Bring a contour of the drawing onto the blank."""
    if placed.mirrored:
        contour = Contour(tuple((-x, y, -bulge) for x, y, bulge in contour.vertices), contour.closed)
    spin = placed.scale * np.exp(1j * math.radians(placed.turn))
    return _spun(contour, spin, complex(placed.x, placed.y))


def _spun(contour: Contour, spin: complex, shift: complex) -> Contour:
    places = [(complex(x, y) * spin + shift, bulge) for x, y, bulge in contour.vertices]
    return Contour(tuple((place.real, place.imag, bulge) for place, bulge in places), contour.closed)


def _is_same(part: Part, wanted: Part, drawn: Sequence[Contour], within: float) -> bool:
    """Tell whether a part is what is wanted; a fill's contours are closed, as the SVG standard fills them."""
    if part.kind != wanted.kind or len(part.contours) != len(drawn):
        return False
    if part.kind == "fill":
        drawn = [Contour(contour.vertices) for contour in drawn]
        found = [Contour(contour.vertices) for contour in part.contours]
        alike = [same_course(*pair, within) for pair in zip(found, drawn, strict=True)]
        return part.rule == wanted.rule and all(alike)
    return same_course(part.contours[0], drawn[0], within)


def _check_area(placed: Placed, blank: Blank, place: str, findings: Findings) -> None:
    """Check that everything drawn lies in the blank's mark area."""
    area = polygon(blank.mark_area).buffer(FLAT_MM)
    shapely.prepare(area)
    for k, part in enumerate(placed.parts):
        lines = [_line(contour, closed=part.kind != "line" or contour.closed) for contour in part.contours]
        if not all(area.covers(line) for line in lines):
            found = f"part {k} leaves the mark area of {blank.name}; scale or move it"
            findings.add("mark-area", place, found)


def _line(contour: Contour, *, closed: bool) -> shapely.LineString:
    points = chain(contour)
    return shapely.LineString(np.vstack([points, points[:1]]) if closed else points)


def _check_sweeps(
    placed: Placed, artwork: Artwork, interval: float | None, place: str, findings: Findings
) -> None:
    earlier: list[Part] = []
    for k, part in enumerate(placed.parts):
        fault = None
        if part.kind == "line":
            fault = "a line has no sweeps; drop them" if part.sweeps else None
        elif interval is None:
            fault = "its blank has no mark setting; name one"
        elif part.kind == "fill":
            fault = sweep_fault(part, interval, earlier, artwork.hatch.angle)
            earlier.append(part)
        if fault:
            findings.add("sweep", f"{place}, part {k}", fault)
