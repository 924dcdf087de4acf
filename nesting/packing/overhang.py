"""What of a body keeps the margin where its silhouette may reach beyond the sheet's edge."""

from collections.abc import Sequence

import shapely

from nesting.geometry.contour import cos_sin
from nesting.geometry.region import Region
from nesting.job.job import Blank


def edge_of(blank: Blank, hole: Region, over: float) -> Region:
    """Outline what of a body keeps the margin, so that its silhouette reaches at most so far into it.

    That is the hole and the mark area, which the beam goes to, and for each turn and side of the sheet the
    place that lies `over` mm inside the silhouette's outermost.

    Parameters
    ----------
    blank
        The body.
    hole
        What is cut for it.
    over
        How far the silhouette may reach beyond what keeps the margin, in mm.

    Examples
    --------
    >>> from nesting.body.body import Turned
    >>> from nesting.body.solid import Solid
    >>> cup = Region.rectangle(120, 75).moved(0, -37.5)
    >>> area = Region.rectangle(60, 20).moved(30, -10)
    >>> blank = Blank("cup", cup, 75, 1, 0.3, (0.0,), area, "fine", solid=Solid(Turned.cylinder(75, 120)))
    >>> [edge_of(blank, Region.rectangle(120, 41).moved(0, -20.5), over).bounds[3] for over in (10, 30)]
    [27.5, 20.5]
    """
    points = [v[:2] for region in (hole, blank.mark_area) for v in region.shape("outer").exterior.coords]
    silhouette = shapely.get_coordinates(blank.footprint.shape("outer").exterior)
    x0, y0, x1, y1 = hole.bounds
    middle = (x0 + x1) / 2, (y0 + y1) / 2
    for x, y in _outwards(blank.turns):
        away = silhouette @ (x, y)
        inner = max(px * x + py * y for px, py in points)
        reach = float(away.max()) - over
        if reach > inner:
            # straight out from the hole's middle, so that no other side is moved out
            ahead = reach - middle[0] * x - middle[1] * y
            points.append((middle[0] + ahead * x, middle[1] + ahead * y))
    hull = shapely.MultiPoint(points).convex_hull
    return Region.polygon(shapely.get_coordinates(hull)[:-1])


def _outwards(turns: Sequence[float]) -> list[tuple[float, float]]:
    """Directions in a blank's coordinates that, turned with it, point to the sides of a sheet."""
    angles = {round((90 * k - turn) % 360, 9) for turn in turns for k in range(4)}
    return [cos_sin(a) for a in sorted(angles)]
