"""Turns the artworks that are ordered on a blank into what the beam marks there."""

import unicodedata
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

import numpy as np

from nesting.artwork.around import repeated
from nesting.artwork.cut import Cutting
from nesting.artwork.dots import dot_sweeps, frame, refuse_many
from nesting.artwork.fill import hatch_apart
from nesting.artwork.lettering import settings_of
from nesting.artwork.place import Placing, place
from nesting.artwork.rings import rings_apart
from nesting.artwork.room import room_in
from nesting.artwork.wrap import Wrapping, wrapping_of
from nesting.errors import InputError, Problem
from nesting.geometry.contour import Contour
from nesting.geometry.drawing import Drawing, Shape
from nesting.geometry.region import Region
from nesting.job.job import Artwork, Blank, Dots, HatchPattern, Job, Lettering, OrderLine
from nesting.plan_values import Marking, Part, Placed


def marking_name(line: OrderLine, artworks: Mapping[str, Artwork]) -> str | None:
    """Name what is marked on the units of an order line; None for bare blanks.

    >>> marking_name(OrderLine("1", "coaster", 4, ("crest", "rim")), {})
    'crest + rim on coaster'
    """
    if not line.artworks:
        return None
    texts = (text_of(line, artworks.get(name)) for name in line.artworks)
    words = (
        name if text is None else f"{name} {text!r}" for name, text in zip(line.artworks, texts, strict=True)
    )
    return f"{' + '.join(words)} on {line.blank}"


def text_of(line: OrderLine, artwork: Artwork | None) -> str | None:
    """Give what an artwork writes on the units of an order line, in one line; None if it writes nothing."""
    if artwork is None or not isinstance(artwork.content, Lettering):
        return None
    return " ".join(unicodedata.normalize("NFC", artwork.content.text(line)).split())


def prepare_markings(job: Job, angle: float = 0.0) -> tuple[Marking, ...]:
    """Prepare what each order line wants on its blank, each artwork and each text once for a kind of blank.

    Fills of artworks that state no direction run at `angle` degrees.

    Markings come in the order in which order lines first need them.

    Raises
    ------
    InputError
        With one problem for each artwork that does not fit its blank's mark area; of a text it names
        the order line.
    """
    press = _Press(job, angle)
    markings: dict[str, Marking] = {}
    for line in job.orders:
        name = marking_name(line, press.artworks)
        if name is not None and name not in markings:
            placed = [press.placed(line, press.artworks[artwork]) for artwork in line.artworks]
            markings[name] = Marking(name, line.blank, tuple(one for one in placed if one))
    if press.problems:
        raise InputError(press.problems)
    return tuple(markings.values())


class _Press:
    """Prepares artworks; each problem is kept, and nothing is prepared twice."""

    def __init__(self, job: Job, angle: float) -> None:
        self.artworks = {artwork.name: artwork for artwork in job.artworks}
        self.problems: list[Problem] = []
        self._angle = angle
        self._blanks = {blank.name: blank for blank in job.blanks}
        self._intervals = {setting.name: setting.interval for setting in job.settings}
        self._thickness = max((stock.thickness for stock in job.stock), default=0.0)
        self._made: dict[tuple[str, str, str | None], Placed | None] = {}

    def placed(self, line: OrderLine, artwork: Artwork) -> Placed | None:
        """Prepare an artwork for an order line; None if that fails, with the reason kept."""
        text = text_of(line, artwork)
        key = (line.blank, artwork.name, text)
        if key not in self._made:
            try:
                self._made[key] = self._make(self._blanks[line.blank], artwork, text)
            except ValueError as error:
                self.problems.append(_problem(line, artwork, text, error))
                self._made[key] = None
        return self._made[key]

    def _make(self, blank: Blank, artwork: Artwork, text: str | None) -> Placed:
        if artwork.fit == "fill" and (artwork.wrap or text is not None):
            raise ValueError('fit = "fill" cuts off what stands out; allowed: flat drawings and pictures')
        wrapping = wrapping_of(blank, self._thickness) if artwork.wrap else None
        room = wrapping.room if wrapping else blank.mark_area
        try:
            drawing, placing = _best(artwork, room, _drawings(artwork, text))
        except ValueError as error:
            raise ValueError(f"{error}{_limit(blank) if wrapping else ''}") from None
        dots = _dots(artwork)
        shapes = [placing.shape(shape) for shape in drawing.shapes[: len(drawing.shapes) - len(dots)]]
        if wrapping:
            shapes = [wrapping.shape(shape) for shape in shapes]
        cutting = _cutting(artwork, room)
        if cutting:
            shapes = [piece for shape in shapes for piece in cutting.shapes(shape)]
        hatch = artwork.hatch
        interval = hatch.interval or self._intervals[blank.setting]
        angle = self._angle if hatch.angle is None else hatch.angle
        refuse_many(dots, placing.scale, interval)
        parts = (
            *(part for each in dots for part in _dotted(each, placing, wrapping or cutting, interval)),
            *_parts(shapes, hatch.pattern, angle, interval),
        )
        if not parts:
            raise ValueError("nothing would be marked; allowed: lines, or fills with an area")
        return Placed(
            artwork=artwork.name,
            scale=placing.scale,
            turn=placing.turn,
            x=placing.x,
            y=placing.y,
            parts=parts,
            mirrored=placing.mirrored,
            text=text,
            wrapped=wrapping is not None,
        )


def _problem(line: OrderLine, artwork: Artwork, text: str | None, error: ValueError) -> Problem:
    where = f"artwork {artwork.name!r} on blank {line.blank!r}"
    if text is None:
        return Problem("", where, str(error))
    return Problem(line.source, f"order line {line.name}, {where}", f"{text!r}: {error}")


def _limit(blank: Blank) -> str:
    return (
        f" along the surface, where the beam meets it at {blank.most_incidence:g}° (most_incidence) or less"
    )


def _drawings(artwork: Artwork, text: str | None) -> Iterator[Drawing]:
    """Draw an artwork in the ways it may be drawn; frames stand for its dots, after everything else."""
    content = artwork.content
    if isinstance(content, Dots):
        yield Drawing(content.picture.width, content.picture.height, (frame(content),))
    elif isinstance(content, Lettering):
        if not text:
            raise ValueError("there is no text; needed: at least one character")
        yield from settings_of(content, text)
    elif artwork.around:
        yield repeated(content, artwork.around)
    else:
        yield replace(content, shapes=(*content.shapes, *map(frame, artwork.pictures)))


def _best(artwork: Artwork, room: Region, drawings: Iterator[Drawing]) -> tuple[Drawing, Placing]:
    """Choose the way that gets largest, the first of those alike."""
    found: list[tuple[Drawing, Placing]] = []
    reason: ValueError | None = None
    for drawing in drawings:
        try:
            placing = place(artwork, drawing, room)
        except ValueError as error:
            reason = reason or error
            continue
        if not found or placing.scale > found[0][1].scale * (1 + 1e-9):
            found = [(drawing, placing)]
    if not found:
        raise reason or ValueError("nothing is drawn; allowed: a drawing with an extent")
    _refuse_tiny(artwork, found[0][1].scale)
    return found[0]


def _refuse_tiny(artwork: Artwork, scale: float) -> None:
    content = artwork.content
    if isinstance(content, Lettering) and content.size * scale < content.smallest * (1 - 1e-9):
        raise ValueError(
            f"its capitals would be {content.size * scale:.3g} mm high; allowed: {content.smallest:g} mm or "
            "more (a shorter text, more lines or a larger mark area helps)"
        )


def _dots(artwork: Artwork) -> tuple[Dots, ...]:
    return (artwork.content,) if isinstance(artwork.content, Dots) else artwork.pictures


def _cutting(artwork: Artwork, area: Region) -> Cutting | None:
    room = room_in(area, artwork.inset, artwork.margins) if artwork.fit == "fill" else None
    return None if room is None else Cutting(room.area)


def _dotted(
    dots: Dots, placing: Placing, changed: Wrapping | Cutting | None, interval: float
) -> Iterator[Part]:
    (edge,) = placing.shape(frame(dots)).contours
    if isinstance(changed, Wrapping):
        pieces = iter([(changed.contour(edge), changed.dots(dots, placing, interval))])
    else:
        shift = np.array([dots.x, dots.y] * 2) * placing.scale
        found = placing.lines(dot_sweeps(dots, placing.scale, interval) + shift)
        pieces = changed.pieces(edge, found) if changed else iter([(edge, found)])
    for contour, found in pieces:
        if len(found):
            sweeps = tuple((x0, y0, x1, y1) for x0, y0, x1, y1 in found.tolist())
            yield Part("dots", (contour,), sweeps=sweeps)


def _parts(shapes: Sequence[Shape], pattern: HatchPattern, angle: float, interval: float) -> Iterator[Part]:
    """Shape by shape fill first, then follow the lines, so that a line covers the ends of the sweeps."""
    areas = [(shape.contours if shape.filled else (), shape.rule) for shape in shapes]
    sweeps = hatch_apart(areas, interval, angle, grid=True) if pattern == "lines" else [() for _ in areas]
    rings: list[tuple[Contour, ...]] = [() for _ in areas]
    if pattern == "rings":
        rings = rings_apart(areas, interval)
    for shape, swept, followed in zip(shapes, sweeps, rings, strict=True):
        if swept:
            yield Part("fill", shape.contours, shape.rule, swept)
        yield from (Part("line", (ring,)) for ring in followed)
        if shape.stroked:
            yield from (Part("line", (contour,)) for contour in shape.contours)
