"""Suite ``mixed-orders``: random orders of cups, coasters, pens and fobs, beside their bounding boxes."""

import random
from collections.abc import Sequence
from dataclasses import replace

import nesting
from benchmarks.blanks import blanks
from benchmarks.irregular import Pieces, solve
from benchmarks.suite import Outcome, Settings, Suite, accepted

ORDERS = 20

_MOST = {"cup": 16, "coaster": 16, "pen": 30, "fob": 40}
"""Most of each kind in an order."""

_GAP_MM, _MARGIN_MM = 3.0, 5.0


def instances(settings: Settings) -> list[Pieces]:
    """Draw the orders; there are no public data."""
    return [mixed_order(settings.seed + k) for k in range(ORDERS)]


def mixed_order(seed: int) -> Pieces:
    """Draw an order, each unit a pocket of its own, on sheets of 300 by 200 mm."""
    rng = random.Random(f"mixed order {seed}")
    drawn = []
    for name, footprint in blanks().items():
        quantity = rng.randint(0, _MOST[name.split(",")[0].split()[0]])
        turns = (0.0, 180.0) if name.startswith("cup") else (0.0, 90.0, 180.0, 270.0)
        if quantity:
            drawn.append(nesting.Item(name, footprint, quantity, turns, _GAP_MM))
    sheet = nesting.Sheet(300, 200, margin=_MARGIN_MM)
    return Pieces(f"order {seed:02}", "mixed orders", tuple(drawn), sheet, "sheets")


def boxed(order: Pieces) -> Pieces:
    """Give an order with bounding boxes for outlines, which may be turned as the blanks may."""
    return replace(order, items=tuple(map(_boxed, order.items)))


def _boxed(item: nesting.Item) -> nesting.Item:
    x0, y0, x1, y1 = item.footprint.bounds
    return replace(item, footprint=nesting.Footprint.rectangle(x1 - x0, y1 - y0))


def _solve(order: Pieces, settings: Settings) -> Outcome:
    """Pack an order; the figure beside it is the number of sheets for its bounding boxes."""
    boxes = solve(boxed(order), replace(settings, out=None))
    return replace(solve(order, settings), reference=boxes.value)


def _conclusion(outcomes: Sequence[Outcome]) -> str:
    fewer = sum(o.value < (o.reference or 0) for o in outcomes)
    more = sum(o.value > (o.reference or 0) for o in outcomes)
    return (
        f"fewer sheets than bounding boxes in {fewer} of {len(outcomes)} orders, more in {more}, "
        f"{accepted(outcomes)}"
    )


SUITE = Suite(
    "mixed-orders", "orders of mixed blanks beside their bounding boxes", instances, _solve, _conclusion
)
