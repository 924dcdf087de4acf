"""Offsets of a region that keep lines and true arcs.

Every stretch of an offset boundary lies on a line beside a line, on a circle round the centre of an
arc, or on a circle round a corner. Shapely finds the topology on a fine polygon; each edge of it is
then given the track of the piece of the source it is nearest to, and the joints are computed anew
where neighbouring tracks cross. A joint that is too near to the source, or too far from it, shows a
track that the polygon had missed, which is then put in between.
"""

import math
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from nesting.geometry.contour import Arc, Contour, Points, Vertex
from nesting.geometry.nearest import Boundary
from nesting.geometry.offset_tracks import EXACT_MM, NotExactError, OffsetTracks
from nesting.geometry.region import Region
from nesting.geometry.track import Line, Point, Track

FINE_MM = 0.001
"""Flattening for the topology; slivers narrower than this may be lost."""

QUARTER_SEGMENTS = 64

ROUGH = ((FINE_MM, QUARTER_SEGMENTS), (0.003, 16), (0.01, 8), (0.0003, 32))
"""Flattenings and segments a quarter turn, tried in turn: a buffer of many short edges can be wrong."""

ROUNDS = 40


def offset(region: Region, distance: float) -> tuple[Region, ...]:
    """Grow a region by `distance` mm, with round corners, or shrink it by a negative one.

    Parameters
    ----------
    region
        What to grow or shrink; a growing region loses holes that close.
    distance
        In mm.

    Returns
    -------
    What is left: one region or, when shrinking, none or several. Lines and arcs are exact. Where that
    cannot be had, polygons stand in whose boundary is nowhere more than 1 µm too near to the source
    and a few µm at most too far from it.

    Raises
    ------
    ValueError
        If the distance is not finite.

    Examples
    --------
    >>> offset(Region.circle(90), 0.25)[0].outer.vertices
    ((-45.25, 0.0, 1.0), (45.25, 0.0, 1.0))
    >>> grown, = offset(Region.rectangle(30, 60), 2)
    >>> len(grown.outer.vertices), round(grown.area - 4 * math.pi, 6)
    (8, 2160.0)
    >>> offset(Region.rectangle(30, 60), -15)
    ()
    """
    if not math.isfinite(distance):
        raise ValueError(f"an offset must be a finite distance, not {distance!r}")
    if distance == 0:
        return (region,)
    tracks = OffsetTracks(region, distance)
    for fine, segments in ROUGH:
        source = region.shape("on", fine)
        try:
            polygons = _polygons(source.buffer(distance, quad_segs=segments)) if source.is_valid else []
            exact = [_exact(polygon, tracks) for polygon in polygons]
        except (NotExactError, ValueError):
            continue
        if source.is_valid:
            return tuple(found for found in exact if found is not None)
    return _safe(region, distance)


@dataclass(slots=True)
class _Run:
    """Neighbouring edges on one track: their first and last feature, and roughly where they start."""

    first: int
    last: int
    start: Point


def _exact(polygon: Polygon, tracks: OffsetTracks) -> Region | None:
    """Make the exact region of a rough one; None if it is a sliver."""
    outer = _ring(np.array(polygon.exterior.coords), tracks)
    holes = [_ring(np.array(ring.coords), tracks) for ring in polygon.interiors]
    return None if outer is None else Region(outer, tuple(hole for hole in holes if hole is not None))


def _ring(points: Points, tracks: OffsetTracks) -> Contour | None:
    rough = Polygon(points)
    try:
        contour = _contour(_linked(_runs(points, tracks), tracks), tracks)
        _verify(contour, rough, tracks)
    except NotExactError:
        if rough.area < 2 * FINE_MM * rough.length:
            return None
        raise
    return contour


def _runs(points: Points, tracks: OffsetTracks) -> list[_Run]:
    """Group the edges of a ring (its first point repeated at its end) by the track they belong to."""
    _, features = tracks.features((points[:-1] + points[1:]) / 2)
    runs: list[_Run] = []
    for feature, point in zip(features, points[:-1], strict=True):
        if tracks.tracks[feature] is None:
            continue
        if runs and _same(tracks, runs[-1].last, feature):
            runs[-1].last = feature
        else:
            runs.append(_Run(feature, feature, (float(point[0]), float(point[1]))))
    if len(runs) > 1 and _same(tracks, runs[-1].last, runs[0].first):
        runs[0].first, runs[0].start = runs[-1].first, runs[-1].start
        runs.pop()
    if not runs:
        raise NotExactError
    return runs


def _same(tracks: OffsetTracks, a: int, b: int) -> bool:
    return a == b or tracks.track(a).key == tracks.track(b).key


def _linked(runs: list[_Run], tracks: OffsetTracks) -> list[_Run]:
    """Move the starts of the runs to the exact joints, putting in or taking out runs until all hold."""
    for _ in range(ROUNDS):
        if len(runs) < 2:
            return runs
        joints = [tracks.joint(runs[k - 1].last, run.first, run.start) for k, run in enumerate(runs)]
        places = np.array([joint or run.start for joint, run in zip(joints, runs, strict=True)])
        distance, features = tracks.features(places)
        bad = [joint is None for joint in joints] | (np.abs(distance - abs(tracks.distance)) > EXACT_MM)
        for run, place in zip(runs, places, strict=True):
            run.start = float(place[0]), float(place[1])
        if not bad.any():
            return runs
        runs = _mended(runs, bad.tolist(), features, tracks)
    raise NotExactError


def _mended(runs: list[_Run], bad: list[bool], features: list[int], tracks: OffsetTracks) -> list[_Run]:
    """Put the nearest feature in at each bad joint, or drop the run that it shows to be too much."""
    mended: list[_Run] = []
    dropped: set[int] = set()
    for k, run in enumerate(runs):
        if bad[k]:
            feature = features[k]
            if tracks.tracks[feature] is None or feature in (runs[k - 1].last, run.first):
                raise NotExactError
            if _same(tracks, feature, runs[(k + 1) % len(runs)].first):
                dropped.add(k)
            elif _same(tracks, feature, runs[k - 2].last):
                dropped.add((k - 1) % len(runs))
            else:
                mended.append(_Run(feature, feature, run.start))
        mended.append(run)
    gone = {id(runs[k]) for k in dropped}
    return _joined([run for run in mended if id(run) not in gone], tracks)


def _joined(runs: list[_Run], tracks: OffsetTracks) -> list[_Run]:
    joined: list[_Run] = []
    for run in runs:
        if joined and _same(tracks, joined[-1].last, run.first):
            joined[-1].last = run.last
        else:
            joined.append(run)
    if len(joined) > 1 and _same(tracks, joined[-1].last, joined[0].first):
        joined[0].first, joined[0].start = joined[-1].first, joined[-1].start
        joined.pop()
    return joined


def _contour(runs: list[_Run], tracks: OffsetTracks) -> Contour:
    if len(runs) == 1:
        circle = tracks.track(runs[0].first)
        if isinstance(circle, Line):
            raise NotExactError
        whole = Contour.circle(2 * circle.radius, circle.x, circle.y)
        return whole if circle.sense > 0 else whole.reversed()
    vertices: list[Vertex] = []
    for k, run in enumerate(runs):
        end = runs[(k + 1) % len(runs)].start
        bulge = tracks.track(run.first).bulge(run.start, end)
        if bulge is None:
            if math.dist(run.start, end) > EXACT_MM:
                raise NotExactError
            continue
        vertices.extend(_halved(tracks.track(run.first), run.start, bulge))
    if len(vertices) < 2:
        raise NotExactError
    return Contour(tuple(vertices))


def _halved(track: Track, start: Point, bulge: float) -> list[Vertex]:
    """Split an arc of more than half a turn: a bulge beyond 1 loses figures."""
    if abs(bulge) < 1 + 1e-6 or isinstance(track, Line):
        return [(*start, bulge)]
    half = math.tan(math.atan(bulge) / 2)
    angle = math.atan2(start[1] - track.y, start[0] - track.x) + 4 * math.atan(half)
    middle = track.x + track.radius * math.cos(angle), track.y + track.radius * math.sin(angle)
    return [(*start, half), (*middle, half)]


def _verify(contour: Contour, rough: Polygon, tracks: OffsetTracks) -> None:
    """Check the distance to the source along the contour, and its area against the polygon's."""
    shares = Boundary(Region(contour)).pieces
    samples = [_at(p.start, p.end, share) for p in shares for share in (0.0, 0.25, 0.5, 0.75)]
    distance, _ = tracks.features(np.array(samples))
    far = np.abs(distance - abs(tracks.distance)).max()
    short = FINE_MM + abs(tracks.distance) * 0.02
    if far > EXACT_MM or abs(abs(contour.area) - rough.area) > rough.length * short:
        raise NotExactError


def _at(start: Vertex, end: Vertex, share: float) -> Point:
    """Find the point after `share` of a line's or arc's length."""
    if start[2]:
        return Arc.between(start, end).at(share)
    return start[0] + (end[0] - start[0]) * share, start[1] + (end[1] - start[1]) * share


def _safe(region: Region, distance: float) -> tuple[Region, ...]:
    """Polygons whose boundary is far enough from the source everywhere.

    An outline that crosses itself by less than a region notices when it is made ends up here.
    """
    source = shapely.make_valid(
        region.shape("outer" if distance > 0 else "inner", FINE_MM), method="structure", keep_collapsed=False
    )
    reach = abs(distance) / math.cos(math.pi / (4 * QUARTER_SEGMENTS))
    for _ in range(ROUNDS):
        polygons = _polygons(source.buffer(math.copysign(reach, distance), quad_segs=QUARTER_SEGMENTS))
        short = max((abs(distance) - _closest(polygon, source) for polygon in polygons), default=0.0)
        if short <= EXACT_MM:
            break
        reach += short
    return tuple(
        Region.polygon(p.exterior.coords[:-1], [ring.coords[:-1] for ring in p.interiors]) for p in polygons
    )


def _closest(polygon: Polygon, source: shapely.Geometry) -> float:
    """Least distance between two boundaries that do not cross."""
    return float(shapely.distance(shapely.boundary(polygon), shapely.boundary(source)))


def _polygons(shape: shapely.Geometry) -> list[Polygon]:
    parts = shape.geoms if isinstance(shape, MultiPolygon) else [shape]
    return [shapely.orient_polygons(part) for part in parts if isinstance(part, Polygon) and part.area > 1e-9]
