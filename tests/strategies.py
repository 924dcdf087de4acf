"""Random problems and jobs, small enough to be planned in a moment."""

from typing import Literal

from hypothesis import strategies as st

from nesting.geometry.contour import Contour
from nesting.geometry.drawing import Drawing, Shape
from nesting.geometry.region import Region
from nesting.job.job import Artwork, Blank, Corner, Job, Machine, MarkSetting, OrderLine, Stock
from nesting.packing.problem import Item, Problem, Sheet


def lengths(low: float, high: float) -> st.SearchStrategy[float]:
    """Lengths in mm, whole tenths."""
    return st.integers(round(low * 10), round(high * 10)).map(lambda tenths: tenths / 10)


@st.composite
def rectangles(draw: st.DrawFn, shares: tuple[float, ...] = (0.0,)) -> Region:
    """Rectangles whose corner radius is one of some shares of the shorter side."""
    width, height = draw(lengths(10, 70)), draw(lengths(10, 70))
    return Region.rectangle(width, height, draw(st.sampled_from(shares)) * min(width, height))


def discs() -> st.SearchStrategy[Region]:
    """Discs."""
    return lengths(10, 60).map(Region.circle)


@st.composite
def polygons(draw: st.DrawFn) -> Region:
    """Stars and other rings of corners, convex or not, off their own origin."""
    count = draw(st.integers(3, 7))
    radii = draw(st.lists(lengths(8, 35), min_size=count, max_size=count))
    x, y = draw(lengths(-20, 20)), draw(lengths(-20, 20))
    corners = [complex(x, y) + r * 1j ** (4 * k / count) for k, r in enumerate(radii)]
    return Region.polygon([(round(c.real, 2), round(c.imag, 2)) for c in corners])


def footprints() -> st.SearchStrategy[Region]:
    """Footprints of every kind: rectangle, rounded, disc, ellipse, polygon, ring."""
    return st.one_of(
        rectangles((0.0, 0.1, 0.5)),
        discs(),
        st.builds(Region.ellipse, lengths(10, 60), lengths(10, 60)),
        polygons(),
        lengths(20, 60).map(lambda d: Region(Contour.circle(d), (Contour.circle(d / 2),))),
    )


@st.composite
def problems(draw: st.DrawFn, shapes: st.SearchStrategy[Region] | None = None, most: int = 3) -> Problem:
    """Packing problems of one to `most` items."""
    kinds = draw(st.lists(footprints() if shapes is None else shapes, min_size=1, max_size=most))
    items = tuple(
        Item(
            f"item {k}",
            shape,
            quantity=draw(st.integers(1, 6)),
            turns=draw(st.sampled_from(((0.0,), (0.0, 90.0), (0.0, 90.0, 180.0, 270.0), (0.0, 30.0), "any"))),
            gap=draw(st.sampled_from((0.0, 0.5, 3.0))),
            mirror=draw(st.booleans()),
        )
        for k, shape in enumerate(kinds)
    )
    return Problem(items, (draw(sheets()),))


@st.composite
def sheets(draw: st.DrawFn) -> Sheet:
    """Stock sheets, some with a keep-out, some few, some of another outline."""
    width, height = draw(lengths(80, 250)), draw(lengths(80, 250))
    keep_outs = draw(st.sampled_from(((), (Region.rectangle(30, 20).moved(10, 15),))))
    quantity, margin = draw(st.sampled_from((None, 2))), draw(st.sampled_from((0.0, 3.0)))
    outline = draw(st.sampled_from((None, None, corner_piece(width, height))))
    return Sheet(width, height, quantity, margin, keep_outs, outline)


def corner_piece(width: float, height: float) -> Region:
    """Make an offcut: a rectangle without its upper right quarter."""
    x, y = width / 2, height / 2
    return Region.polygon([(0, 0), (width, 0), (width, y), (x, y), (x, height), (0, height)])


@st.composite
def drawings(draw: st.DrawFn) -> Drawing:
    """Drawings of a frame, a disc to fill, a ring to fill and an open line, in any mix."""
    frame = Shape((Contour.polyline([(0, 0), (20, 0), (20, 10), (0, 10)]),))
    disc = Shape((Contour.circle(8, 10, 5),), filled=True, stroked=draw(st.booleans()))
    holed = (Contour.circle(9, 5, 5), Contour.circle(4, 5, 5).reversed())
    ring = Shape(holed, filled=True, stroked=False, rule=draw(st.sampled_from(("nonzero", "evenodd"))))
    line = Shape((Contour.polyline([(1, 1), (10, 8), (18, 2)], closed=False),), width=0.2)
    shapes = draw(st.lists(st.sampled_from((frame, disc, ring, line)), min_size=1, max_size=4, unique=True))
    return Drawing(20, 10, tuple(shapes))


@st.composite
def artworks(draw: st.DrawFn, name: str) -> Artwork:
    """Artworks of every alignment, that fit anywhere."""
    fit: Literal["inside", "size"] = draw(st.sampled_from(("inside", "size")))
    return Artwork(
        name,
        draw(drawings()),
        fit,
        width=2.0 if fit == "size" else None,
        turn=draw(st.sampled_from((0.0, 90.0, 30.0))),
        align_x=draw(st.sampled_from(("left", "centre", "right"))),
        align_y=draw(st.sampled_from(("bottom", "middle", "top"))),
    )


@st.composite
def blanks(draw: st.DrawFn, name: str) -> Blank:
    """Blanks whose mark area is a rectangle or a disc in the middle of the footprint."""
    footprint = draw(footprints())
    point = footprint.shape("inner").representative_point()
    x, y = point.x, point.y
    area = draw(
        st.sampled_from((Region.rectangle(8, 6).moved(x - 4, y - 3), Region(Contour.circle(7, x, y))))
    )
    turns = draw(st.sampled_from(((0.0,), (0.0, 90.0), (0.0, 180.0), (15.0, 105.0))))
    gap, clearance = draw(st.sampled_from((0.0, 1.0, 5.0))), draw(st.sampled_from((0.0, 0.15, 0.5)))
    height = draw(st.sampled_from((3.0, 3.4, 9.0)))
    return Blank(name, footprint, height, gap, clearance, turns, area, "fine")


@st.composite
def stocks(draw: st.DrawFn, name: str) -> Stock:
    """Stock of every kind: plenty or few, with keep-outs, and offcuts of any outline."""
    width, height = draw(lengths(120, 300)), draw(lengths(120, 300))
    outline = draw(st.sampled_from((None, None, corner_piece(width, height))))
    keep_outs = draw(st.sampled_from(((), (Region.rectangle(20, 20).moved(5, 5),))))
    quantity = draw(st.sampled_from((None, 1, 2)))
    margin, cost = draw(st.sampled_from((0.0, 4.0))), draw(st.sampled_from((None, 3.0)))
    return Stock(name, width, height, 3.0, "plywood", quantity, margin, keep_outs, outline, cost)


@st.composite
def jobs(draw: st.DrawFn) -> Job:
    """Whole jobs: up to three blanks, two kinds of stock, two artworks, four order lines."""
    kinds = [draw(blanks(f"blank {k}")) for k in range(draw(st.integers(1, 3)))]
    art = [draw(artworks(f"artwork {k}")) for k in range(2)]
    orders = [
        OrderLine(
            f"line {k}",
            draw(st.sampled_from(kinds)).name,
            draw(st.integers(1, 6)),
            draw(st.sampled_from(((), (art[0].name,), (art[1].name,), (art[1].name, art[0].name)))),
            priority=draw(st.integers(1, 9)),
        )
        for k in range(draw(st.integers(1, 4)))
    ]
    stock = [draw(stocks(f"stock {k}")) for k in range(draw(st.integers(1, 2)))]
    corner: Corner = draw(st.sampled_from(("front left", "front right", "back left", "back right")))
    return Job(
        title="drawn",
        machine=Machine(600, 400, origin=corner, kerf={"plywood": draw(st.sampled_from((0.0, 0.2)))}),
        settings=(MarkSetting("fine", interval=0.4, passes=draw(st.integers(1, 2))),),
        stock=tuple(stock),
        blanks=tuple(kinds),
        artworks=tuple(art),
        orders=tuple(orders),
        sheet_use=draw(st.sampled_from(("reload", "once"))),
        web=draw(st.sampled_from((0.0, 3.0))),
    )
