"""Preparing markings: one for each blank and artwork that is ordered, in the blank's coordinates."""

import pytest

from nesting.artwork.prepare import prepare_markings
from nesting.errors import InputError
from nesting.geometry.contour import Contour
from nesting.geometry.drawing import Drawing, Shape
from nesting.geometry.region import Region
from nesting.job.job import Artwork, Blank, Job, Machine, MarkSetting, OrderLine

SQUARE = Contour.polyline([(0, 0), (10, 0), (10, 10), (0, 10)])
BOTH = Drawing(10, 10, (Shape((SQUARE,), filled=True, stroked=True),))
RING = Drawing(
    10,
    10,
    (
        Shape(
            (Contour.circle(10, 5, 5), Contour.circle(6, 5, 5)),
        ),
    ),
)


def blank(name: str, size: float) -> Blank:
    area = Region.rectangle(size, size)
    return Blank(name, area, 3.0, 1.0, 0.2, (0.0,), area, "fine")


def job(*artworks: Artwork, orders: tuple[tuple[str, str | None], ...]) -> Job:
    return Job(
        "test", Machine(300, 200), (MarkSetting("fine", interval=0.5),), (),
        (blank("coaster", 90), blank("fob", 8)), artworks,
        tuple(OrderLine(str(k), b, 1, (a,) if a else ()) for k, (b, a) in enumerate(orders)),
    )  # fmt: skip


def test_each_ordered_pair_once() -> None:
    """Pairs come in the order of the order lines, each once, and bare blanks give none."""
    asked = job(
        Artwork("crest", BOTH), Artwork("ring", RING), Artwork("unused", RING),
        orders=(("fob", "ring"), ("coaster", None), ("coaster", "crest"), ("fob", "ring"), ("fob", "crest")),
    )  # fmt: skip
    names = [marking.name for marking in prepare_markings(asked)]
    assert names == ["ring on fob", "crest on coaster", "crest on fob"]


def test_fill_comes_before_the_line_of_a_shape() -> None:
    """A shape both filled and stroked is swept, then followed, and a stroke gives a part a contour."""
    crest, ring = prepare_markings(
        job(Artwork("crest", BOTH), Artwork("ring", RING), orders=(("coaster", "crest"), ("fob", "ring")))
    )
    assert [part.kind for part in crest.parts] == ["fill", "line"]
    assert len(crest.parts[0].sweeps) == 180  # 90 mm at the setting's 0.5 mm
    assert [len(part.contours) for part in ring.parts] == [1, 1]


def test_parts_are_the_drawing_placed() -> None:
    """Scale, turn and shift of the marking take the drawing's corners to those of its parts."""
    (marking,) = prepare_markings(
        job(Artwork("crest", BOTH, fit="true", turn=90, align_x="left"), orders=(("coaster", "crest"),))
    )
    (placed,) = marking.placed
    expected = SQUARE.scaled(placed.scale).moved(placed.x, placed.y, placed.turn)
    assert marking.parts[1].contours == (expected,)
    assert expected.bounds == pytest.approx((0, 40, 10, 50))


def test_every_misfit_is_reported_at_once() -> None:
    """Two artworks too large for two blanks give two problems that name them."""
    asked = job(
        Artwork("crest", BOTH, fit="size", width=100), Artwork("ring", RING, fit="true"),
        orders=(("coaster", "crest"), ("fob", "ring"), ("coaster", "ring")),
    )  # fmt: skip
    with pytest.raises(InputError) as caught:
        prepare_markings(asked)
    assert [problem.where for problem in caught.value.problems] == [
        "artwork 'crest' on blank 'coaster'",
        "artwork 'ring' on blank 'fob'",
    ]


def test_a_fill_without_area_is_not_silently_nothing() -> None:
    """An artwork that would leave no mark at all is an error."""
    flat = Drawing(10, 10, (Shape((Contour.polyline([(0, 0), (5, 0)]),), filled=True, stroked=False),))
    with pytest.raises(InputError, match="nothing would be marked"):
        prepare_markings(job(Artwork("flat", flat), orders=(("coaster", "flat"),)))
