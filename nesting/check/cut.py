"""The check of artwork that covers a mark area: what lies in the area is marked, and nothing beside."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from nesting.check.distances import Places
from nesting.check.rings import area_of, rings_fault
from nesting.check.solids import chain, polygon
from nesting.check.sweeps import FLAT_MM
from nesting.geometry.contour import Contour
from nesting.geometry.drawing import Drawing
from nesting.geometry.picture import Picture
from nesting.geometry.region import Region
from nesting.job.job import Artwork, Dots
from nesting.plan_values import Part, Placed

_CELLS = 2e6
"""A cut picture is compared in so many cells at the most."""
_INSET_SHARE = 2e-3
"""Round corners of an inset are verified to this share of it."""
_SHARES = {"left": 0.0, "bottom": 0.0, "centre": 0.5, "middle": 0.5, "right": 1.0, "top": 1.0}


@dataclass(frozen=True)
class Room:
    """A mark area less an artwork's inset and margins, known to `within` mm."""

    area: BaseGeometry
    within: float

    @classmethod
    def of(cls, artwork: Artwork, area: Region) -> "Room":
        """Take inset and margins off."""
        whole = polygon(area)
        x0, y0, x1, y1 = whole.bounds
        left, below, right, above = (artwork.inset + margin for margin in artwork.margins)
        box = shapely.box(x0 + left, y0 + below, x1 - right, y1 - above)
        shrunk = whole.buffer(-artwork.inset, quad_segs=64) if artwork.inset else whole
        return cls(shrunk & box, FLAT_MM + _INSET_SHARE * artwork.inset)


def as_drawing(artwork: Artwork) -> Artwork:
    """Take a picture by itself as a drawing that holds it alone."""
    content = artwork.content
    if not isinstance(content, Dots):
        return artwork
    return replace(artwork, content=Drawing(1.0, 1.0, ()), pictures=(content,))


def cover_faults(places: Places, artwork: Artwork, area: Region) -> Iterator[str]:
    """Say where the convex hull of what is drawn, given by points of it, does not just cover a mark area.

    What is largest and where it lies is known of rectangles; of others only that they cover is checked.
    """
    room = Room.of(artwork, area)
    hull = shapely.MultiPoint(np.column_stack([places.real, places.imag])).convex_hull
    if not hull.buffer(room.within).covers(room.area):
        yield "does not cover the mark area less inset and margins; scale or move it"
    if not (_is_box(hull) and _is_box(room.area)):
        return
    found, wanted = (np.array(shape.bounds).reshape(2, 2) for shape in (hull, room.area))
    spare = np.ptp(found, axis=0) - np.ptp(wanted, axis=0)
    if not any(artwork.offset) and spare.min() > room.within:
        yield f"is {spare.min():.3f} mm larger than covers the mark area; scale it"
    shares = np.array([_SHARES[artwork.align_x], _SHARES[artwork.align_y]])
    off = found[0] + shares * spare - wanted[0] - artwork.offset
    if np.abs(off).max() > room.within:
        yield f"lies ({off[0]:.3f}, {off[1]:.3f}) mm off its alignment; move it"


def cut_faults(
    parts: Sequence[Part], drawn: Sequence[Part], room: Room, interval: float, *, rings: bool
) -> Iterator[str]:
    """Say where parts are not the fills and lines drawn, cut off at the outline of a room.

    Areas are joined and compared as shapely cuts them: nothing else is filled, and nothing wider than
    an interval is missing (what fills before leave of an area may be too narrow for a sweep).
    """
    lines = [_line(part.contours[0]) for part in parts if part.kind == "line"]
    followed = [_line(part.contours[0]) for part in drawn if part.kind == "line"]
    wanted = shapely.union_all([area_of(part) for part in drawn if part.kind == "fill"]) & room.area
    if rings:
        near = shapely.union_all(followed).buffer(room.within)
        inner = [part for part in parts if part.kind == "line" and not near.covers(_line(part.contours[0]))]
        lines = [line for line in lines if near.covers(line)]
        if fault := rings_fault(inner, _as_parts(wanted), interval):
            yield fault
    else:
        found = shapely.union_all([area_of(part) for part in parts if part.kind == "fill"])
        if not (found - wanted).buffer(-room.within).is_empty:
            yield "something is filled that is not drawn, or stands out of the mark area; cut it off"
        if not (wanted - found).buffer(-interval / 2).is_empty:
            yield "an area of the drawing in the mark area is not filled; fill it"
    yield from _line_faults(lines, followed, room)


def _line_faults(
    lines: Sequence[shapely.LineString], drawn: Sequence[shapely.LineString], room: Room
) -> Iterator[str]:
    """Compare lines both ways, and by their length."""
    inner, outer = room.area.buffer(-room.within), room.area.buffer(room.within)
    found, wanted = shapely.union_all(lines), shapely.union_all(drawn)
    if not (found - (wanted.buffer(room.within) & outer)).is_empty:
        yield "a line is no part of the drawing, or stands out of the mark area; cut it off"
    if not ((wanted & inner) - found.buffer(2 * room.within)).is_empty:
        yield "a line of the drawing in the mark area is missing; follow it"
    least, most = (float(shapely.length(shapely.intersection(drawn, a)).sum()) for a in (inner, outer))
    length, slack = float(shapely.length(lines).sum()), 1e-3 * float(shapely.length(drawn).sum())
    if not least - slack <= length <= most + slack:
        yield f"its lines are {length:.2f} mm long, and {least:.2f} mm are drawn in the mark area; redo them"


def pieces_of(parts: Sequence[Part], frame: Contour, room: Room) -> list[Part]:
    """Find the parts of dots, one a piece, that are the pieces of a picture's frame in a room."""
    pieces = shapely.get_parts(shapely.intersection(Polygon(chain(frame)), room.area))
    left, found = [part for part in parts if part.kind == "dots"], []
    for outline in (Polygon(piece.exterior) for piece in pieces if isinstance(piece, Polygon)):
        same = (k for k, part in enumerate(left) if _is_outline(part, outline, room.within))
        k = next(same, None)
        if k is not None:
            found.append(left.pop(k))
    return found


def cut_dots(dots: Dots, placed: Placed, room: Room, interval: float) -> Dots:
    """Make a picture white where it lies outside a room."""
    picture, spin = dots.picture, placed.scale * np.exp(1j * np.radians(placed.turn))
    cell = max(interval / placed.scale, (picture.width * picture.height / _CELLS) ** 0.5)
    columns, rows = (max(1, round(length / cell)) for length in (picture.width, picture.height))
    u, v = (np.arange(columns) + 0.5) / columns, (np.arange(rows) + 0.5) / rows
    dark = picture.darkness[(v * picture.rows).astype(int)][:, (u * picture.columns).astype(int)]
    x, y = np.meshgrid(dots.x + u * picture.width, dots.y + v * picture.height)
    at = ((-x if placed.mirrored else x) + 1j * y) * spin + complex(placed.x, placed.y)
    seen = dark * shapely.contains_xy(room.area, at.real, at.imag)
    grey = (255 * (1 - seen[::-1])).round().astype(np.uint8)
    return replace(dots, picture=Picture.of(grey, picture.width, picture.height))


def outside_fault(sweeps: Sequence[tuple[float, float, float, float]], room: Room) -> str | None:
    """Say whether sweeps of a picture leave a room."""
    grown = room.area.buffer(room.within)
    shapely.prepare(grown)
    lines = shapely.linestrings(np.array(sweeps).reshape(-1, 2, 2))
    return None if shapely.covers(grown, lines).all() else "a sweep stands out of the mark area; cut it off"


def _is_outline(part: Part, outline: Polygon, within: float) -> bool:
    area = Polygon(chain(part.contours[0]))
    return bool(area.is_valid and (area ^ outline).buffer(-within).is_empty)


def _as_parts(area: BaseGeometry) -> list[Part]:
    pieces = [piece for piece in shapely.get_parts(area) if isinstance(piece, Polygon)]
    rings = [[shapely.get_coordinates(ring)[:-1] for ring in (p.exterior, *p.interiors)] for p in pieces]
    return [Part("fill", tuple(Contour.polyline(r.tolist()) for r in each), "evenodd") for each in rings]


def _line(contour: Contour) -> shapely.LineString:
    points = chain(contour, 1e-3)
    return shapely.LineString(np.vstack([points, points[:1]]) if contour.closed else points)


def _is_box(shape: BaseGeometry) -> bool:
    return bool(shapely.box(*shape.bounds).area <= shape.area * (1 + 1e-6))
