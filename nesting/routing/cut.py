"""The cut path of a sheet: every contour of every pocket once, inner ones before what contains them."""

from collections.abc import Sequence

from shapely import Point as ShapelyPoint
from shapely import Polygon, STRtree

from nesting.geometry.contour import Contour
from nesting.job.job import Machine
from nesting.packing.stop import Stop
from nesting.plan_values import Path, Pocket, Step
from nesting.routing.legs import Order
from nesting.routing.route import find_route
from nesting.routing.shapes import Line, Point, Run, measure


def cut_path(
    pockets: Sequence[Pocket], machine: Machine, *, start: Point = (0.0, 0.0), stop: Stop, seed: int = 1
) -> Path:
    """Order the contours of pockets so that cutting them takes little time.

    A contour that lies inside another one, of the same pocket or of another, is cut first: what is
    freed is never cut again (common practice, no source).

    Parameters
    ----------
    start
        The corner of the sheet where the beam waits, mm.
    stop
        When to end the search.
    seed
        For the search.

    Examples
    --------
    >>> from nesting.geometry.region import Region
    >>> washer = Region(Contour.circle(30), (Contour.circle(10),)).moved(20, 20)
    >>> pocket = Pocket(1, "washer", 20, 20, 0, washer, washer.contours)
    >>> path = cut_path([pocket], Machine(600, 400), stop=Stop(effort=1))
    >>> [step.part for step in path.steps]
    [0, 1]
    """
    parts = [(pocket.number, k) for pocket in pockets for k in range(len(pocket.path))]
    lines = [Line(contour, machine.cut_speed) for pocket in pockets for contour in pocket.path]
    before = inside_first([line.contour for line in lines])
    route = find_route(lines, machine, start, stop, seed, before)
    found = measure(lines, route.runs, start, machine)
    numbered = measure(
        lines, [Run(k) for k in sorted(range(len(parts)), key=parts.__getitem__)], start, machine
    )
    steps = tuple(Step(*parts[run.shape], run.start, run.backwards) for run in route.runs)
    return Path(steps, found.travel, numbered.travel, found.beam, found.seconds, numbered.seconds)


def inside_first(contours: Sequence[Contour]) -> list[Order]:
    """Pair contours of which the first lies inside the second.

    >>> inside_first([Contour.circle(9), Contour.circle(3), Contour.circle(2, x=20)])
    [(1, 0)]
    """
    areas = [abs(contour.area) if contour.closed else 0.0 for contour in contours]
    rings = [k for k, area in enumerate(areas) if area > 0]
    if not rings:
        return []
    polygons = {k: Polygon(contours[k].flattened()) for k in rings}
    points = [
        polygons[k].representative_point() if k in polygons else ShapelyPoint(contour.vertices[0][:2])
        for k, contour in enumerate(contours)
    ]
    inner, outer = STRtree(list(polygons.values())).query(points, predicate="within")
    pairs = zip(inner.tolist(), (rings[k] for k in outer), strict=True)
    return sorted((a, b) for a, b in pairs if areas[a] < areas[b])
