"""What a job asks of packing: an item for each kind of blank, a sheet for each kind of stock."""

from collections import Counter
from collections.abc import Sequence

import shapely

from nesting.body.seat import joined
from nesting.fixture.hole import grown, hole_of
from nesting.fixture.notch import reserved_notches
from nesting.geometry.around import polygon_around
from nesting.geometry.contour import Contour
from nesting.geometry.drawing import joint_bounds
from nesting.geometry.offset import offset
from nesting.geometry.region import Region
from nesting.job.job import Blank, Job, Stock
from nesting.packing.overhang import edge_of
from nesting.packing.problem import Item, Sheet
from nesting.plan_values import Disc

_COARSE_MM = 0.01
_NEARLY_CONVEX = 1.02
"""An outline whose hull is no larger than this is packed as its hull."""


def ordered(job: Job) -> dict[str, int]:
    """Count the units ordered of each blank, in the job's order of blanks; blanks without are left out."""
    counts: Counter[str] = Counter()
    for line in job.orders:
        counts[line.blank] += line.quantity
    return {blank.name: counts[blank.name] for blank in job.blanks if counts[blank.name]}


def items_of(job: Job) -> list[Item]:
    """Make an item of each blank ordered, as many as there are units.

    Placements that keep the items' gaps keep the blanks' gaps, and leave the web between any two
    pockets: between two items the larger gap holds, and the larger of `web + 2 clearance` is no less
    than the web and both clearances. A blank that is not flat has two outlines: its silhouette keeps
    the gap, its hole the web (see `two_outlines`). Reserved finger notches count as the hole's.
    """
    counts = ordered(job)
    thickest = max((stock.thickness for stock in job.stock), default=0.0)
    margin = min((sheet.margin for sheet in sheets_of(job)), default=0.0)
    over = None if job.overhang is None else job.overhang + margin
    return [
        _item(blank, counts[blank.name], job.web, thickest, over)
        for blank in job.blanks
        if blank.name in counts
    ]


def sheets_of(job: Job) -> list[Sheet]:
    """Make a sheet of each stock, with room for pockets round the footprints.

    Margins and keep-outs are drawn for the blank whose pocket reaches furthest, so that the web stands
    between any pocket and the edge, and no pocket enters a keep-out.
    """
    counts = ordered(job)
    largest = max((blank.reach for blank in job.blanks if blank.name in counts), default=0.0)
    return [_sheet(stock, largest, job.web) for stock in job.stock]


def solid_footprint(footprint: Region, clearance: float) -> Region:
    """Fill the parts of a footprint that its pocket cuts loose.

    Those are its holes, and what a mouth narrower than twice the clearance encloses: nothing can be
    placed there.

    >>> ring = Region(Region.circle(60).outer, (Region.circle(30).outer,))
    >>> solid_footprint(ring, 0.5) == Region.circle(60)
    True
    """
    solid = Region(footprint.outer)
    (grown,) = offset(solid, clearance)
    if not grown.holes:
        return solid
    return max(offset(Region(grown.outer), -clearance), key=lambda region: region.area)


def with_notches(outline: Region, notches: Sequence[Disc]) -> Region:
    """Add room for finger notches to an outline; a rectangle stays one.

    >>> with_notches(Region.rectangle(60, 30), [(30, 0, 16), (30, 30, 16)]).bounds
    (0.0, -8.0, 60.0, 38.0)
    """
    if not notches:
        return outline
    discs = [Region(Contour.circle(d, x, y)) for x, y, d in notches]
    if outline.is_rectangle:
        return _box_round([outline, *discs])
    return joined([region.shape("outer", _COARSE_MM) for region in (outline, *discs)])


def two_outlines(silhouette: Region, hole: Region, gap: float, web: float) -> Region:
    """Make one outline for packing whose gap keeps two: the silhouette's gap and the hole's web.

    The hole is grown by half of what the web needs beyond the gap and united with the silhouette. A seat
    is narrower than its silhouette, so for most bodies only the ends grow.

    Notes
    -----
    It gives some room away: a rectangular silhouette stays a rectangle, an outline that is nearly convex
    becomes its hull, and where one blank's hole meets another's silhouette the larger need holds.

    >>> cup = Region.rectangle(120, 75).moved(0, -37.5)
    >>> [round(side, 6) for side in two_outlines(cup, Region.rectangle(120, 41).moved(0, -20.5), 4, 6).bounds]
    [-1.0, -37.5, 121.0, 37.5]
    """
    below = grown(hole, max(web - gap, 0.0) / 2)
    if silhouette.is_rectangle:
        return _box_round([silhouette, below])
    outlines = [silhouette.shape("outer", _COARSE_MM), below.shape("outer", _COARSE_MM)]
    if outlines[0].covers(outlines[1]):
        return Region(silhouette.outer)
    both = joined(outlines)
    hull = both.shape("on").convex_hull
    if hull.area > both.area * _NEARLY_CONVEX:
        return both
    return Region.polygon(
        polygon_around(shapely.get_coordinates(shapely.orient_polygons(hull))[:-1], _COARSE_MM)
    )


def _item(blank: Blank, quantity: int, web: float, thickness: float, over: float | None) -> Item:
    hole = hole_of(blank, thickness)
    notches = reserved_notches(blank, hole)
    if blank.solid is None:
        gap = max(blank.gap, web + 2 * blank.reach)
        outline = with_notches(solid_footprint(blank.footprint, blank.clearance), notches)
        return Item(blank.name, outline, quantity, blank.turns, gap)
    hole = with_notches(hole, notches)
    outline = two_outlines(blank.footprint, hole, blank.gap, web)
    edge = None if over is None else edge_of(blank, hole, over)
    return Item(blank.name, outline, quantity, blank.turns, blank.gap, edge=edge)


def _box_round(regions: Sequence[Region]) -> Region:
    x0, y0, x1, y1 = joint_bounds([region.bounds for region in regions])
    return Region.rectangle(x1 - x0, y1 - y0).moved(x0, y0)


def _sheet(stock: Stock, clearance: float, web: float) -> Sheet:
    return Sheet(
        stock.width,
        stock.height,
        stock.quantity,
        max(stock.margin, clearance + web),
        tuple(_kept_out(region, clearance) for region in stock.keep_outs),
        stock.outline,
        stock.cost,
        stock.name,
    )


def _kept_out(region: Region, clearance: float) -> Region:
    if not region.is_rectangle or clearance == 0:
        return offset(region, clearance)[0]
    # a rectangle stays one, its corners a little safer than they need be: engines for them take no other
    x0, y0, x1, y1 = region.bounds
    grown = Region.rectangle(x1 - x0 + 2 * clearance, y1 - y0 + 2 * clearance)
    return grown.moved(x0 - clearance, y0 - clearance)
