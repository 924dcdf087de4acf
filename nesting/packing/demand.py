"""What a job asks of packing: an item for each kind of blank, a sheet for each kind of stock."""

from collections import Counter

from nesting.geometry.offset import offset
from nesting.geometry.region import Region
from nesting.job.job import Blank, Job, Stock
from nesting.packing.problem import Item, Sheet


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
    than the web and both clearances.
    """
    counts = ordered(job)
    return [_item(blank, counts[blank.name], job.web) for blank in job.blanks if blank.name in counts]


def sheets_of(job: Job) -> list[Sheet]:
    """Make a sheet of each stock, with room for pockets round the footprints.

    Margins and keep-outs are drawn for the blank with the largest clearance, so that the web stands
    between any pocket and the edge, and no pocket enters a keep-out.
    """
    counts = ordered(job)
    largest = max((blank.clearance for blank in job.blanks if blank.name in counts), default=0.0)
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


def _item(blank: Blank, quantity: int, web: float) -> Item:
    gap = max(blank.gap, web + 2 * blank.clearance)
    return Item(blank.name, solid_footprint(blank.footprint, blank.clearance), quantity, blank.turns, gap)


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
