"""Turns every artwork that is ordered on a blank into what the beam marks there."""

from collections.abc import Iterator

from nesting.artwork.fill import hatch
from nesting.artwork.place import place
from nesting.errors import InputError, Problem
from nesting.geometry.drawing import Shape
from nesting.job.job import Artwork, Blank, Job
from nesting.plan_values import Marking, Part


def marking_name(blank: str, artwork: str) -> str:
    """Name the marking of an artwork on a kind of blank.

    >>> marking_name("coaster", "crest")
    'crest on coaster'
    """
    return f"{artwork} on {blank}"


def prepare_markings(job: Job) -> tuple[Marking, ...]:
    """Prepare each artwork once for each kind of blank that some order line wants it on.

    Markings come in the order in which order lines first name them.

    Raises
    ------
    InputError
        With one problem for each artwork that does not fit its blank's mark area.
    """
    blanks = {blank.name: blank for blank in job.blanks}
    artworks = {artwork.name: artwork for artwork in job.artworks}
    intervals = {setting.name: setting.interval for setting in job.settings}
    wanted = dict.fromkeys((line.blank, line.artwork) for line in job.orders if line.artwork is not None)
    markings: list[Marking] = []
    problems: list[Problem] = []
    for blank, artwork in ((blanks[b], artworks[a]) for b, a in wanted if a is not None):
        try:
            markings.append(_marking(blank, artwork, intervals[blank.setting]))
        except InputError as error:
            problems.extend(error.problems)
    if problems:
        raise InputError(problems)
    return tuple(markings)


def _marking(blank: Blank, artwork: Artwork, interval: float) -> Marking:
    placing = place(artwork, blank.mark_area, blank.name)
    shapes = [placing.shape(shape) for shape in artwork.drawing.shapes]
    parts = tuple(part for shape in shapes for part in _parts(shape, interval))
    if not parts:
        where = f"artwork {artwork.name!r} on blank {blank.name!r}"
        raise InputError.single("nothing would be marked; allowed: lines, or fills with an area", where=where)
    return Marking(
        name=marking_name(blank.name, artwork.name),
        blank=blank.name,
        artwork=artwork.name,
        scale=placing.scale,
        turn=placing.turn,
        x=placing.x,
        y=placing.y,
        parts=parts,
    )


def _parts(shape: Shape, interval: float) -> Iterator[Part]:
    """Fill first, then follow the lines, so that a line covers the ends of the sweeps."""
    if shape.filled:
        sweeps = hatch(shape.contours, shape.rule, interval)
        if sweeps:
            yield Part("fill", shape.contours, shape.rule, sweeps)
    if shape.stroked:
        for contour in shape.contours:
            yield Part("line", (contour,))
