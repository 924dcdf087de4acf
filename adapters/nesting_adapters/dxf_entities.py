"""Entities of a DXF drawing: which are drawn, and their contours in millimetres."""

import math
from collections.abc import Iterator
from typing import Any

from nesting.geometry.contour import Contour, Vertex

MOST_ENTITIES = 20_000
"""So many entities may be drawn, each of a block counted as often as the block is inserted."""

DEEPEST = 16
MOST_CURVE_POINTS = 50_000
FINE_MM = 0.005
"""Curves that are no arcs are flattened to this."""


def entities(document: Any) -> Iterator[Any]:
    """List what is drawn in the model space, blocks taken apart.

    Raises
    ------
    ValueError
        If blocks hold themselves, or too much comes out; found before anything is taken apart.
    """
    counts: dict[str, int] = {}
    total = sum(_count(document, entity, counts, ()) for entity in document.modelspace())
    if total > MOST_ENTITIES:
        raise ValueError(f"{total:,} entities, blocks taken apart; allowed: up to {MOST_ENTITIES:,}")
    hidden = {layer.dxf.name.casefold() for layer in document.layers if layer.is_off() or layer.is_frozen()}
    for entity in document.modelspace():
        yield from _taken_apart(entity, hidden)


def _count(document: Any, entity: Any, counts: dict[str, int], inside: tuple[str, ...]) -> int:
    if entity.dxftype() != "INSERT":
        return 1
    name = str(entity.dxf.name).casefold()
    if name in inside or len(inside) >= DEEPEST:
        raise ValueError(f"the block {entity.dxf.name!r} holds itself, or blocks are nested too deep")
    if name not in counts:
        block = document.blocks.get(entity.dxf.name)
        members = block if block is not None else ()
        counts[name] = sum(_count(document, member, counts, (*inside, name)) for member in members)
    return max(1, counts[name]) * max(1, int(entity.mcount))


def _taken_apart(entity: Any, hidden: set[str]) -> Iterator[Any]:
    if entity.dxf.get("layer", "0").casefold() in hidden or entity.dxf.get("invisible", 0):
        return
    if entity.dxftype() != "INSERT":
        yield entity
        return
    for insert in entity.multi_insert() if entity.mcount > 1 else (entity,):
        for member in insert.virtual_entities():
            yield from _taken_apart(member, hidden)


def shape_contours(entity: Any, scale: float) -> list[Contour]:
    """Make the contours of one entity; `scale` is the unit in mm.

    Raises
    ------
    ValueError
        If it cannot be marked.
    """
    kind = entity.dxftype()
    if kind not in _MAKERS:
        raise ValueError(f"found {kind}, which is not read; allowed: {', '.join(_MAKERS)} and INSERT")
    chains = _MAKERS[kind](entity, FINE_MM / scale)
    return [contour for chain, closed in chains if (contour := _contour(chain, closed, scale)) is not None]


Chain = tuple[list[Vertex], bool]


def _line(entity: Any, _: float) -> list[Chain]:
    return [([(p.x, p.y, 0.0) for p in (entity.dxf.start, entity.dxf.end)], False)]


def _circle(entity: Any, _: float) -> list[Chain]:
    x, y, radius = entity.dxf.center.x, entity.dxf.center.y, abs(entity.dxf.radius)
    return [_in_world(entity, [(x - radius, y, 1.0), (x + radius, y, 1.0)], closed=True)]


def _arc(entity: Any, _: float) -> list[Chain]:
    sweep = (entity.dxf.end_angle - entity.dxf.start_angle) % 360 or 360.0
    middle = entity.dxf.start_angle + sweep / 2
    angles = [math.radians(a) for a in (entity.dxf.start_angle, middle, entity.dxf.start_angle + sweep)]
    centre, radius, bulge = entity.dxf.center, abs(entity.dxf.radius), math.tan(math.radians(sweep / 8))
    points = [(centre.x + radius * math.cos(a), centre.y + radius * math.sin(a), bulge) for a in angles]
    return [_in_world(entity, points, closed=False)]


def _light_polyline(entity: Any, _: float) -> list[Chain]:
    return [_in_world(entity, [(x, y, b) for x, y, b in entity.get_points("xyb")], closed=entity.closed)]


def _polyline(entity: Any, _: float) -> list[Chain]:
    if not entity.is_2d_polyline and not entity.is_3d_polyline:
        raise ValueError("found a mesh; allowed: a polyline")
    points = [(v.dxf.location.x, v.dxf.location.y, v.dxf.get("bulge", 0.0)) for v in entity.vertices]
    if entity.is_3d_polyline:
        return [(points, entity.is_closed)]
    return [_in_world(entity, points, closed=entity.is_closed)]


def _curve(entity: Any, fine: float) -> list[Chain]:
    points: list[Vertex] = []
    for p in entity.flattening(fine, 8):
        points.append((p.x, p.y, 0.0))
        if len(points) > MOST_CURVE_POINTS:
            raise ValueError(f"a curve of more than {MOST_CURVE_POINTS:,} points")
    return [(points, False)]


_MAKERS = {
    "LINE": _line,
    "CIRCLE": _circle,
    "ARC": _arc,
    "LWPOLYLINE": _light_polyline,
    "POLYLINE": _polyline,
    "SPLINE": _curve,
    "ELLIPSE": _curve,
}


def _in_world(entity: Any, points: list[Vertex], *, closed: bool) -> Chain:
    """From the entity's own axes to the drawing's: seen from below, left and right change places."""
    direction = entity.dxf.get("extrusion", (0, 0, 1))
    x, y, z = direction
    if max(abs(x), abs(y)) > 1e-6 * abs(z) or z == 0:
        raise ValueError("it does not lie flat; allowed: flat drawings")
    return (points, closed) if z > 0 else ([(-px, py, -bulge) for px, py, bulge in points], closed)


def _contour(chain: list[Vertex], closed: bool, scale: float) -> Contour | None:
    """Scale to mm and drop points that repeat; None if nothing is left."""
    vertices = [(x * scale, y * scale, bulge) for x, y, bulge in chain]
    kept = [
        v
        for v, after in zip(vertices, [*vertices[1:], None], strict=True)
        if after is None or v[:2] != after[:2]
    ]
    if closed and len(kept) > 1 and kept[0][:2] == kept[-1][:2]:
        kept.pop()
    if len(kept) < 2:
        return None
    if not closed and kept[0][:2] == kept[-1][:2] and len(kept) > 2:
        return Contour(tuple(kept[:-1]))
    return Contour(tuple(kept) if closed else (*kept[:-1], (*kept[-1][:2], 0.0)), closed)
