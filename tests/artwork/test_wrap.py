"""Artwork wrapped round a body: its measures along the surface, judged by the independent check."""

from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
import pytest

from nesting.artwork.prepare import prepare_markings
from nesting.body.body import Body, Sphere, Turned
from nesting.body.rest import level_shim
from nesting.body.solid import Solid
from nesting.body.surface import top
from nesting.errors import InputError
from nesting.geometry.contour import Contour
from nesting.geometry.drawing import Drawing, Shape
from nesting.geometry.picture import Picture
from nesting.geometry.region import Region
from nesting.job.job import Artwork, Blank, Dots, Hatch, Job
from nesting.plan_values import Marking, Part
from tests.artwork.test_contents import SLOPE, faults, lettering
from tests.artwork.test_contents import job as flat_job

CAN = Turned.cylinder(75, 120)
CUP = Turned.tapered(70, 90, 200)
BODIES: dict[str, tuple[Body, float]] = {
    "cylinder": (CAN, 0.0),
    "cup": (CUP, 0.0),
    "level cup": (CUP, level_shim(CUP)),
    "cup the other way": (Turned.tapered(88, 61, 170), 0.0),
    "bottle": (Turned(((0, 20), (40, 36), (150, 36))), 0.0),
}
RING = Drawing(
    30, 30, (Shape((Contour.circle(30, 15, 15), Contour.circle(16, 15, 15)), filled=True, rule="evenodd"),)
)
BAR = Drawing(40, 30, (Shape((Contour.polyline([(0, 0), (40, 0), (40, 30), (0, 30)]),)),))


def job(*artworks: Artwork, body: str = "cylinder", most_incidence: float = 40.0) -> Job:
    """One order line with all the artworks, wrapped, on a body."""
    turned, shim = BODIES[body]
    solid = Solid(turned, shim=shim)
    outline = solid.outline(6)
    x0, _, x1, _ = outline.bounds
    middle = 95.0 if body == "bottle" else (x0 + x1) / 2
    area = Region.rectangle(90, 60).moved(middle - 45, -30)
    blank = Blank(
        "tag", outline, 70.0, 1.0, 0.2, (0.0,), area, "fine", solid=solid, most_incidence=most_incidence
    )
    wrapped = tuple(replace(artwork, wrap=True) for artwork in artworks)
    return replace(flat_job(*wrapped, texts=("Ada 12",)), blanks=(blank,))


def measured(asked: Job, part: Part) -> float:
    """Length of a part's contours in space, along the surface."""
    solid = asked.blanks[0].solid
    assert solid is not None
    total = 0.0
    for contour in part.contours:
        points = contour.flattened(0.001)
        closed = np.vstack([points, points[:1]]) if contour.closed else points
        fine = np.concatenate([np.linspace(a, b, 50) for a, b in pairwise(closed)])
        space = np.column_stack([fine, top(solid.body, solid.pose(6), *fine.T)])
        total += float(np.linalg.norm(np.diff(space, axis=0), axis=1).sum())
    return total


@pytest.mark.parametrize("body", BODIES)
@pytest.mark.parametrize("turn", [0, 90, 30])
def test_lines_along_the_surface_have_the_length_they_are_drawn_with(body: str, turn: float) -> None:
    """The edge of a rectangle of 40 x 30 mm is 140 mm in space, however it lies; from above it is less."""
    asked = job(Artwork("bar", BAR, "true", turn=turn), body=body)
    (marking,) = prepare_markings(asked)
    (part,) = marking.parts
    assert measured(asked, part) == pytest.approx(140, abs=0.01)
    assert part.contours[0].length < 139.5
    assert not faults(asked, (marking,))


CONTENTS: dict[str, Artwork] = {
    "fill": Artwork("ring", RING, "size", width=28.0),
    "fill turned": Artwork("ring", RING, "size", width=28.0, turn=20.0, hatch=Hatch(angle=30.0)),
    "rings": Artwork("ring", RING, "size", width=28.0, hatch=Hatch("rings")),
    "mirrored": Artwork("bar", BAR, "size", width=30.0, mirrored=True, align_x="left", offset=(2, 1)),
    "text": Artwork("name", lettering(size=9.0), "size", height=9.0),
    "text of areas": Artwork("name", lettering("broad", size=9.0), "shrink", turn=90.0),
    "dots": Artwork("slope", Dots(SLOPE), "size", width=36.0),
    "dots turned": Artwork("slope", Dots(SLOPE, "ordered"), "size", width=30.0, turn=90.0, mirrored=True),
    "dots in a drawing": Artwork(
        "both", RING, "size", height=34.0, turn=90.0, pictures=(Dots(SLOPE, "ordered", x=35, y=-5),)
    ),
    "dark": Artwork("dark", Dots(Picture.of(np.zeros((9, 9), np.uint8), 20.0, 20.0)), "true"),
}


@pytest.mark.parametrize("content", CONTENTS)
@pytest.mark.parametrize("body", ["cylinder", "cup", "bottle"])
def test_every_kind_of_artwork_is_wrapped_soundly(content: str, body: str) -> None:
    """Drawings, fills, rings, texts and dots are, laid flat by the check's own means, what was asked."""
    asked = job(CONTENTS[content], body=body)
    (marking,) = prepare_markings(asked)
    assert marking.placed[0].wrapped
    assert not faults(asked, (marking,))


def changed(marking: Marking, stretch: float = 1.0, **changes: Any) -> tuple[Marking, ...]:
    """Widen all that is marked across the axis, or state something else of it."""

    def wide(contour: Contour) -> Contour:
        return Contour(tuple((x, y * stretch, b) for x, y, b in contour.vertices), contour.closed)

    (placed,) = marking.placed
    parts = tuple(
        replace(
            part,
            contours=tuple(map(wide, part.contours)),
            sweeps=tuple((x0, y0 * stretch, x1, y1 * stretch) for x0, y0, x1, y1 in part.sweeps),
        )
        for part in placed.parts
    )
    return (replace(marking, placed=(replace(placed, **{"parts": parts, **changes}),)),)


@pytest.mark.parametrize("content", ["fill", "mirrored", "text", "dark"])
def test_artwork_that_is_not_narrowed_by_the_projection_is_found(content: str) -> None:
    """The check tells a projected artwork from one along the surface, by 1 % of its width."""
    asked = job(CONTENTS[content], body="cup")
    (marking,) = prepare_markings(asked)
    said = faults(asked, changed(marking, 1.01 if content != "dark" else 1.1))
    assert any("missing" in one or "rows" in one or "leave" in one or "dark" in one for one in said)
    assert "must be measured along the surface" in faults(asked, changed(marking, wrapped=False))[0]
    steep = replace(asked, blanks=(replace(asked.blanks[0], most_incidence=8.0),))
    assert any("allowed: 8°" in one for one in faults(steep, (marking,)))


@pytest.mark.parametrize("content", ["fill", "text", "dots"])
def test_what_lies_beside_the_body_is_found(content: str) -> None:
    """Marks far off the body are a fault and no failure of the check."""
    asked = job(CONTENTS[content])
    (marking,) = prepare_markings(asked)
    said = faults(asked, changed(marking, 40.0))
    assert any("beside the body" in one for one in said)


def test_the_largest_artwork_ends_at_the_limit() -> None:
    """The rule "inside" gets the arc of 2 x 40° on a radius of 37.5 mm, 52.36 mm; a larger one is refused."""
    asked = job(Artwork("bar", BAR, "inside", turn=90.0), most_incidence=40.0)
    (marking,) = prepare_markings(asked)
    across = marking.placed[0].scale * 40
    assert across == pytest.approx(2 * 37.5 * np.radians(40), abs=0.001)
    with pytest.raises(InputError, match=r"x 52.36.* along the surface.*40° \(most_incidence\)"):
        prepare_markings(job(Artwork("bar", BAR, "size", turn=90.0, height=60.0)))


def test_flat_blanks_take_wrapped_artwork_as_it_is_and_spheres_refuse_it() -> None:
    """On a flat blank wrap changes nothing; a sphere cannot be laid flat."""
    flat = flat_job(Artwork("bar", BAR, "true", wrap=True))
    plain = flat_job(Artwork("bar", BAR, "true"))
    assert prepare_markings(flat) == prepare_markings(plain)
    assert not faults(flat, prepare_markings(flat))
    asked = job(Artwork("bar", BAR, "true"))
    ball = replace(asked.blanks[0], solid=Solid(Sphere(40)))
    with pytest.raises(InputError, match="a sphere cannot be laid flat"):
        prepare_markings(replace(asked, blanks=(ball,)))
