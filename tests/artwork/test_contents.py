"""Texts, pictures of dots, hatches and copies on a blank, judged by the independent check."""

from dataclasses import replace

import numpy as np
import pytest
from shapely import LineString, Polygon, union_all

from nesting.artwork.dots import averaged, dither, dot_sweeps, refuse_many
from nesting.artwork.fill import hatch_apart
from nesting.artwork.lettering import settings_of
from nesting.artwork.prepare import prepare_markings
from nesting.artwork.rings import rings_apart
from nesting.check.markings import check_markings
from nesting.check.report import Findings
from nesting.errors import InputError
from nesting.geometry.contour import Contour
from nesting.geometry.drawing import Drawing, Shape
from nesting.geometry.picture import Picture
from nesting.geometry.region import Region
from nesting.job.job import (
    Around,
    Artwork,
    Blank,
    Dither,
    Dots,
    Hatch,
    Job,
    Lettering,
    Machine,
    MarkSetting,
    OrderLine,
)
from nesting.plan_values import Marking, Plan
from nesting_adapters.stroke_font import StrokeFonts

SQUARE = Contour.polyline([(0, 0), (10, 0), (10, 10), (0, 10)])
TWO = Drawing(
    15,
    10,
    (
        Shape((SQUARE,), filled=True, stroked=False),
        Shape((SQUARE.moved(5, 2), SQUARE.scaled(0.4).moved(8, 4)), filled=True, rule="evenodd"),
    ),
)
SLOPE = Picture.of(np.tile(np.linspace(0, 255, 60).round().astype(np.uint8), (40, 1)), 60.0, 40.0)


def lettering(name: str = "round", **more: object) -> Lettering:
    """Set a text from the column name, in a packaged font."""
    font = StrokeFonts().read(name, "".join(map(chr, range(32, 127))))
    return replace(Lettering(font, column="name"), **more)  # type: ignore[arg-type]


def job(*artworks: Artwork, area: Region | None = None, texts: tuple[str, ...] = ("Ada",)) -> Job:
    """One order line a text, each with all the artworks on it."""
    footprint = area or Region.rectangle(80, 50)
    blank = Blank("tag", footprint, 3.0, 1.0, 0.2, (0.0,), footprint, "fine")
    names = tuple(artwork.name for artwork in artworks)
    orders = tuple(
        OrderLine(f"line {k}", "tag", 2, names, {"name": t}, source=f"orders.csv, row {k + 2}")
        for k, t in enumerate(texts)
    )
    return Job(
        "test", Machine(300, 200), (MarkSetting("fine", interval=0.4),), (), (blank,), artworks, orders
    )


def faults(asked: Job, markings: tuple[Marking, ...]) -> list[str]:
    """List what the independent check says of markings."""
    plan = Plan(
        asked,
        (),
        (),
        markings,
        (),
        0,
        proven=False,
        bound_reason="",
        explanation="",
        warnings=(),
        seed=1,
        made_by="hand",
    )
    findings = Findings()
    check_markings(plan, findings)
    return [str(violation) for violation in findings.report().violations]


LOGO_AND_NAME = (
    Artwork("logo", TWO, margins=(0, 20, 0, 0), mirrored=True),
    Artwork("name", lettering(size=8), "shrink", margins=(0, 0, 0, 32), align_x="left"),
)
SOUND = {
    "logo and name": LOGO_AND_NAME,
    "broad name at an angle": (Artwork("name", lettering("broad"), turn=30, hatch=Hatch(angle=45)),),
    "two lines": (Artwork("name", lettering(lines=3, align="left"), inset=2),),
    "moved name": (Artwork("name", lettering(size=5), "true", offset=(3, -7)),),
    "dots": (Artwork("slope", Dots(SLOPE)),),
    "ordered dots, turned": (Artwork("slope", Dots(SLOPE, "ordered"), "size", width=30, turn=20),),
    "dots by threshold, mirrored": (Artwork("slope", Dots(SLOPE, "threshold"), mirrored=True),),
    "drawing with dots, turned": (
        Artwork("crest", TWO, turn=15, pictures=(Dots(SLOPE, "ordered", x=20, y=-5), Dots(SLOPE, x=-70))),
    ),
    "dots in a drawing, mirrored": (
        Artwork("crest", Drawing(90, 60, ()), mirrored=True, pictures=(Dots(SLOPE, x=9),)),
    ),
    "rings": (Artwork("logo", TWO, hatch=Hatch("rings", interval=0.5)),),
    "copies round a circle": (Artwork("logo", TWO, around=Around(7, 20)),),
    "shrunk to the width asked": (Artwork("logo", TWO, "shrink", width=500),),
}


@pytest.mark.parametrize("area", [Region.rectangle(80, 50), Region.ellipse(80, 50)], ids=["box", "oval"])
@pytest.mark.parametrize("name", SOUND)
def test_what_is_prepared_passes_the_check(name: str, area: Region) -> None:
    """Every rule and content, alone and mixed, gives markings in which the check finds nothing."""
    asked = job(*SOUND[name], area=area, texts=("Ada", "Mary Ann Lee"))
    markings = prepare_markings(asked)
    assert len(markings) == (2 if any(isinstance(a.content, Lettering) for a in SOUND[name]) else 1)
    assert faults(asked, markings) == []


def _with(marking: Marking, k: int, **changes: object) -> tuple[Marking, ...]:
    placed = list(marking.placed)
    placed[k] = replace(placed[k], **changes)  # type: ignore[arg-type]
    return (replace(marking, placed=tuple(placed)),)


def test_a_wrong_text_is_found() -> None:
    """Letters left out, swapped or doubled, and a text other than its letters, are seen by the check."""
    asked = job(*LOGO_AND_NAME)
    (marking,) = prepare_markings(asked)
    parts = marking.placed[1].parts
    for changed in (parts[:-1], (*parts[1:], parts[0]), parts + parts[-1:]):
        assert faults(asked, _with(marking, 1, parts=changed))
    assert faults(asked, _with(marking, 1, text="Eve"))


def test_a_wrong_picture_is_found() -> None:
    """A strip that is not swept, and a row that is swept twice, are seen by the check."""
    asked = job(Artwork("slope", Dots(SLOPE)))
    (marking,) = prepare_markings(asked)
    (part,) = marking.parts
    half = replace(part, sweeps=part.sweeps[: len(part.sweeps) // 2])
    twice = replace(part, sweeps=part.sweeps[:1] + part.sweeps)
    for changed in (half, twice):
        assert faults(asked, _with(marking, 0, parts=(changed,)))


def test_a_wrong_picture_in_a_drawing_is_found() -> None:
    """One that is left out, moved, or doubled is seen by the check."""
    asked = job(Artwork("crest", TWO, pictures=(Dots(SLOPE, x=20, y=-5), Dots(SLOPE, x=-70))))
    (marking,) = prepare_markings(asked)
    first, second = (part for part in marking.parts if part.kind == "dots")
    others = [part for part in marking.parts if part.kind != "dots"]
    moved = replace(first, sweeps=tuple((a, b + 2, c, d + 2) for a, b, c, d in first.sweeps))
    for dots in ((first,), (moved, second), (first, first, second)):
        assert faults(asked, _with(marking, 0, parts=(*dots, *others)))


def test_rings_that_are_missing_are_found() -> None:
    """An area of which every other ring is left out is not filled."""
    asked = job(Artwork("logo", TWO, hatch=Hatch("rings", interval=0.5)))
    (marking,) = prepare_markings(asked)
    assert faults(asked, _with(marking, 0, parts=marking.parts[::2]))


def test_a_name_that_does_not_fit_names_its_row() -> None:
    """One problem for each row whose name gets too small, with file and row; the others are sound."""
    asked = job(
        Artwork("name", lettering(size=12, smallest=9), "shrink"), texts=("Ada", "Wolfgang Amadeus", "Bo")
    )
    with pytest.raises(InputError) as caught:
        prepare_markings(asked)
    (problem,) = caught.value.problems
    assert problem.file == "orders.csv, row 3" and "Wolfgang Amadeus" in problem.message


def test_a_text_is_wrapped_where_that_makes_it_larger() -> None:
    """In a square two words stand one above the other; in a strip side by side."""
    text = Artwork("name", lettering(lines=2))
    for area, rows in ((Region.rectangle(40, 40), 2), (Region.rectangle(80, 8), 1)):
        (marking,) = prepare_markings(job(text, area=area, texts=("Hello World",)))
        gaps = {round(part.contours[0].bounds[1], 3) for part in marking.parts if part.contours[0].bounds}
        assert (max(gaps) - min(gaps) > 8) == (rows == 2)


def test_alignment_of_lines() -> None:
    """The shorter line starts where the longer one does, or ends there."""
    drawn = {
        align: list(settings_of(lettering(lines=2, align=align), "II IIIIIIII"))[1]
        for align in ("left", "right")
    }
    lefts = {align: drawing.contours[0].bounds[0] for align, drawing in drawn.items()}
    assert lefts["left"] == pytest.approx(0) and lefts["right"] > 10


@pytest.mark.parametrize("how", ["diffusion", "ordered"])
@pytest.mark.parametrize("grey", [0.1, 0.25, 0.5, 0.9])
def test_dithering_keeps_the_grey(how: Dither, grey: float) -> None:
    """A plain grey is marked to its share, within 2 %."""
    assert dither(np.full((96, 96), grey), how, 0.5).mean() == pytest.approx(grey, abs=0.02)


def test_diffusion_is_that_of_the_literature_cell_by_cell() -> None:
    """The fronts give what the plain loop of Floyd and Steinberg (1976) gives."""
    dark = np.random.default_rng(3).random((17, 23))
    value, expected = np.pad(dark, ((0, 1), (1, 1))), np.zeros(dark.shape, dtype=bool)
    for r in range(17):
        for c in range(23):
            expected[r, c] = value[r, c + 1] > 0.5
            error = value[r, c + 1] - expected[r, c]
            for dr, dc, share in ((0, 1, 7), (1, -1, 3), (1, 0, 5), (1, 1, 1)):
                value[r + dr, c + 1 + dc] += error * share / 16
    assert (dither(dark, "diffusion", 0.5) == expected).all()


def test_averages_keep_the_mean() -> None:
    """Larger or smaller cells have the mean of what they cover."""
    values = np.random.default_rng(2).random((13, 29))
    for columns, rows in ((7, 5), (40, 31), (29, 13)):
        assert averaged(values, columns, rows).mean() == pytest.approx(values.mean())


def test_a_picture_of_too_many_dots_is_refused() -> None:
    """The number is found before anything is made, also that of many pictures together."""
    with pytest.raises(ValueError, match="dots at an interval"):
        dot_sweeps(Dots(SLOPE), 100.0, 0.01)
    refuse_many([Dots(SLOPE)] * 4, 1.0, 0.02)
    with pytest.raises(ValueError, match="in all"):
        refuse_many([Dots(SLOPE)] * 6, 1.0, 0.02)


def test_nothing_is_swept_twice() -> None:
    """Overlapping areas are swept as their union: the bands of all sweeps together have its area."""
    areas = [((SQUARE.moved(x, y, turn),), "nonzero") for x, y, turn in ((0, 0, 0), (4, 3, 0), (9, 2, 45))]
    sweeps = [s for part in hatch_apart(areas, 0.05, 30) for s in part]  # type: ignore[arg-type]
    union = union_all([Polygon(contours[0].points) for contours, _ in areas])
    length = sum(((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5 for x0, y0, x1, y1 in sweeps)
    assert length * 0.05 == pytest.approx(union.area, rel=2e-3)


def test_rings_cover_without_overlap() -> None:
    """The bands of rings cover a square with a hole to 97 %, and share no more than 3 % of it."""
    holed = (SQUARE, SQUARE.scaled(0.3).moved(4, 3))
    (rings,) = rings_apart([(holed, "evenodd")], 0.4)
    bands = [LineString([*ring.points, ring.points[0]]).buffer(0.2, join_style="mitre") for ring in rings]
    joint = union_all(bands)
    assert joint.area > 0.97 * 91
    assert sum(band.area for band in bands) - joint.area < 0.03 * 91
