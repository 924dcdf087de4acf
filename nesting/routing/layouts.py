"""Among layouts with the same pockets on the same sheet, the one that takes the least machine time."""

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from nesting.geometry.contour import cos_sin
from nesting.geometry.region import Region
from nesting.job.job import Job, Machine
from nesting.packing.demand import items_of, sheets_of
from nesting.packing.problem import Item, Sheet
from nesting.packing.result import Layout, Placement
from nesting.packing.sheet_plan import PlacedSheet, SheetPlan
from nesting.packing.stop import Stop
from nesting.routing.search import Task, find_ways
from nesting.routing.shapes import Point
from nesting.routing.strokes import Strokes, weighing

LEAST_GAIN = 0.5
"""Seconds of machine time that another layout must save over all loads of its sheet."""

VISITING_EFFORT = 0.005

RIGHT_ANGLES = (0.0, 90.0, 180.0, 270.0)

Pack = Callable[..., Layout]


def lay_out_for_time(
    job: Job, plan: SheetPlan, seconds: Callable[[SheetPlan], float], pack: Pack, stop: Stop, seed: int
) -> tuple[SheetPlan, float]:
    """Lay out each sheet that is to be cut once more, and keep what takes less machine time.

    Tried are the same blanks packed by their extents, so that they stand in rows that can be swept
    together, and packed with another seed.

    Parameters
    ----------
    seconds
        Estimates the machine time of a plan.
    pack
        `nesting.packing.choice.pack`, or another with its signature.

    Returns
    -------
    The plan, and the seconds it saves.
    """
    items = {item.name: item for item in items_of(job)}
    sheets = dict(zip((stock.name for stock in job.stock), sheets_of(job), strict=True))
    first = least = seconds(plan)
    for number, placed in enumerate(plan.sheets):
        if placed.kept is not None:
            continue
        wanted = [replace(items[name], quantity=count) for name, count in placed.pockets.items()]
        sheet = replace(sheets[placed.stock.name], quantity=1)
        part = stop.part(1 / (len(plan.sheets) - number))
        trials = _by_extents(wanted, sheet, pack, part, seed), _packed(wanted, sheet, pack, part, seed + 1)
        for trial in trials:
            if trial is None:
                continue
            placements = tuple(replace(p, sheet=placed.placements[0].sheet) for p in trial)
            changed = _with_sheet(plan, number, replace(placed, placements=placements))
            found = seconds(changed)
            if found < least - LEAST_GAIN:
                plan, least = changed, found
        stop.spend(part.spent)
    return plan, first - least


def visiting_seconds(points: Sequence[Point], machine: Machine, start: Point, stop: Stop) -> float:
    """Estimate the time of going from the start through points, in a good order."""
    count = len(points)
    places, none = np.array(points, dtype=float).reshape(-1, 2), np.zeros(count, dtype=np.int64)
    strokes = Strokes(np.arange(count), places, places, np.zeros(count), none, none > 0, weighing(machine))
    if count == 0:
        return 0.0
    part = Stop(effort=VISITING_EFFORT)
    ways = find_ways(Task(strokes, start), part, 1).ways
    stop.spend(part.spent)
    return strokes.total(ways, start)


def _with_sheet(plan: SheetPlan, number: int, sheet: PlacedSheet) -> SheetPlan:
    return replace(plan, sheets=(*plan.sheets[:number], sheet, *plan.sheets[number + 1 :]))


def _packed(
    items: Sequence[Item], sheet: Sheet, pack: Pack, stop: Stop, seed: int
) -> tuple[Placement, ...] | None:
    """Pack all items on one sheet; None if that is not found soon."""
    if stop.reached:
        return None
    done = False

    def listen(layout: Layout) -> None:
        nonlocal done
        done = done or not layout.unplaced

    part = stop.part(0.5)
    layout = pack(
        items,
        [sheet],
        seconds=max(part.seconds or 0.0, 0.05),
        effort=None if part.effort is None else max(part.effort, 0.01),
        seed=seed,
        progress=listen,
        cancelled=lambda: done or stop.cancelled(),
    )
    stop.spend(part.effort or 0.0)
    return None if layout.unplaced or len(layout.sheets) != 1 else layout.placements


def _by_extents(
    items: Sequence[Item], sheet: Sheet, pack: Pack, stop: Stop, seed: int
) -> tuple[Placement, ...] | None:
    """Pack the rectangles round the items, at right angles only."""
    if any(item.turns == "any" or not set(item.turns) & set(RIGHT_ANGLES) for item in items):
        return None
    corners: dict[str, tuple[float, float]] = {}
    boxes = []
    for item in items:
        x0, y0, x1, y1 = item.footprint.bounds
        # whole µm, so that placements stay on their grid
        left, low = math.floor(x0 * 1000 + 1e-6) / 1000, math.floor(y0 * 1000 + 1e-6) / 1000
        corners[item.name] = (left, low)
        turns = tuple(turn for turn in RIGHT_ANGLES if turn in item.turns)
        box = Region.rectangle(round(x1 - left + 0.0005, 3), round(y1 - low + 0.0005, 3))
        edge = item.edge and item.edge.moved(-left, -low)
        boxes.append(replace(item, footprint=box, turns=turns, edge=edge))
    found = _packed(boxes, sheet, pack, stop, seed)
    return None if found is None else tuple(_of_item(place, *corners[place.item]) for place in found)


def _of_item(place: Placement, left: float, low: float) -> Placement:
    """Give the placement of an item from that of the rectangle round it."""
    c, s = cos_sin(place.turn)
    x, y = place.x - (c * left - s * low), place.y - (s * left + c * low)
    return replace(place, x=round(x, 3), y=round(y, 3))
