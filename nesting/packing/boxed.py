"""Bounding boxes packed instead of outlines: another start, better where outlines are nearly boxes."""

import math
from collections.abc import Sequence
from dataclasses import replace

from nesting.geometry.region import Region
from nesting.packing.filling import Filling, Spot, counted
from nesting.packing.problem import Item, Problem, Sheet
from nesting.packing.rectangles import RectangleEngine
from nesting.packing.room import Room
from nesting.packing.shapes import Shape, Shapes
from nesting.packing.stop import Stop
from nesting.units import GRID_MM, snap


def boxed_fillings(
    problem: Problem,
    shapes: Shapes,
    rooms: Sequence[Room],
    seed: int,
    stop: Stop,
    beside: Sequence[Filling] = (),
) -> list[Filling] | None:
    """Pack the bounding boxes with the engine for rectangles; None if it cannot take the problem.

    What lies on sheets `beside` is left out, and so are these sheets.
    """
    if any(item.edge for item in problem.items):
        return None
    placed = counted(beside)
    items, upright = [], []
    for item, ways in zip(problem.items, map(_upright, shapes.of_item), strict=True):
        if item.quantity > placed[item.name]:
            items.append(replace(_box(item, ways), quantity=item.quantity - placed[item.name]))
            upright.append(ways)
    left = {sheet: room for room in rooms for sheet in _less(room, beside)}
    if not items or not left:
        return None
    boxed, engine = replace(problem, items=tuple(items), sheets=tuple(left)), RectangleEngine()
    if engine.refusal(boxed) is not None:
        return None
    layout = engine.pack(boxed, stop, seed, lambda _: None)
    ways_of = {item.name: ways for item, ways in zip(items, upright, strict=True)}
    fillings = [Filling(left[sheet], shapes) for sheet in layout.sheets]
    for placement, region in zip(layout.placements, layout.regions, strict=True):
        ways = ways_of[placement.item]
        way = next(way for way in ways if _between(ways[0], way) == round(placement.turn, 6) % 360)
        x0, y0, *_ = region.bounds
        fillings[placement.sheet].put(Spot(way, snap(x0 - way.bounds[0]), snap(y0 - way.bounds[1])))
    return fillings


def _less(room: Room, beside: Sequence[Filling]) -> list[Sheet]:
    """Give the sheet with the stock that is left beside those that are used; none if there is none."""
    used, quantity = sum(filling.room is room for filling in beside), room.sheet.quantity
    if quantity is None or not used:
        return [room.sheet]
    return [replace(room.sheet, quantity=quantity - used)] if quantity > used else []


def _upright(ways: Sequence[Shape]) -> list[Shape]:
    """Give the first way an item may lie, and those that are right angles from it."""
    first = ways[0]
    return [way for way in ways if not way.mirrored and _between(first, way) in (0.0, 90.0, 180.0, 270.0)]


def _between(first: Shape, way: Shape) -> float:
    return round(way.turn - first.turn, 6) % 360


def _box(item: Item, ways: Sequence[Shape]) -> Item:
    """Put a box round an item, a little larger where rounding a placement could press it out."""
    x0, y0, x1, y1 = ways[0].bounds
    footprint = Region.rectangle(_grown(x1 - x0), _grown(y1 - y0))
    return replace(
        item, footprint=footprint, turns=tuple(_between(ways[0], way) for way in ways), mirror=False
    )


def _grown(length: float) -> float:
    steps = length / GRID_MM
    return (round(steps) if abs(steps - round(steps)) < 1e-6 else math.ceil(steps) + 1) * GRID_MM
