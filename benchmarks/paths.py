"""Paths: closed tours beside published optima, pockets in grids, and a whole bed of marks.

    python -m benchmarks paths --data DIR [--seconds N] [--seed N]

The tours are the eight TSPLIB instances of ``tsp.json`` (Reinelt 1991), distances rounded to whole
numbers as EUC_2D says; each has its own time, and they are left out without data. The other sets are
generated; each has ``--seconds``.
"""

import json
import math
import random
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from nesting import order_path
from nesting.geometry.contour import Contour
from nesting.geometry.region import Region
from nesting.job.job import Machine, MarkSetting
from nesting.packing.stop import Stop
from nesting.plan_values import CutSheet, Filling, Marking, Part, Placed, Pocket, Unit
from nesting.plan_values import Path as MarkPath
from nesting.routing.bound import path_bound
from nesting.routing.mark import mark_path
from nesting.routing.search import Task, find_ways
from nesting.routing.shapes import Floats, Line
from nesting.routing.strokes import make_strokes
from nesting.routing.tour import improve_tour

TOUR_SECONDS = {"rd400": 5.0, "pcb442": 5.0, "pr1002": 10.0}
"""Seconds of a tour; 2 for the instances not named."""


def run(data: Path | None, seconds: float, seed: int) -> Iterator[str]:
    """Run the suite; give the lines of its tables one by one."""
    if data is not None:
        yield from tours(data, seed)
    yield "| path | contours | as given mm | found mm | bound mm | proven | seconds |"
    yield "|---|---|---|---|---|---|---|"
    yield point_grid_row(seconds, seed)
    for name, contours in contour_sets(seed).items():
        yield path_row(name, contours, seconds, seed)
    yield ""
    yield from entry_rows(seconds, seed)
    yield ""
    yield "| bed | parts | numbered mm | found mm | numbered s | found s | seconds |"
    yield "|---|---|---|---|---|---|---|"
    for units in (30, 300):
        yield bed_row(units, seconds, seed)


def tours(data: Path, seed: int) -> Iterator[str]:
    """Improve the published tours."""
    yield "| tour | points | optimum | found | above | seconds |"
    yield "|---|---|---|---|---|---|"
    for row in json.loads((data / "tsp.json").read_text())["instances"]:
        yield tour_row(row["name"], np.array(row["points"], dtype=float), row["optimal_tour"], seed)
    yield ""


def tour_row(name: str, points: Floats, optimum: int, seed: int) -> str:
    """Improve a random tour; count its length leg by leg."""
    gaps = points[:, None] - points
    distances = np.floor(np.hypot(gaps[..., 0], gaps[..., 1]) + 0.5)
    tour = random.Random(seed).sample(range(len(points)), len(points))
    stop = Stop(seconds=TOUR_SECONDS.get(name, 2.0))
    best = improve_tour(distances, tour, stop, seed)
    length = sum(
        int(math.dist(points[a], points[b]) + 0.5) for a, b in zip(best, best[1:] + best[:1], strict=True)
    )
    above = 100 * (length / optimum - 1)
    return f"| {name} | {len(points)} | {optimum} | {length} | {above:.2f} % | {stop.elapsed:.1f} |"


def point_grid_row(seconds: float, seed: int) -> str:
    """Order 28 pockets in a 7 x 4 grid, each entered at one place only."""
    strokes = make_strokes([Line(contour, 10) for contour in contour_sets(seed)["28 round pockets"]], None, 1)
    start, stop = (0.0, 0.0), Stop(seconds=seconds)
    found = strokes.total(find_ways(Task(strokes, start), stop, seed).ways, start)
    given = strokes.total(np.arange(28), start)
    bound = path_bound(strokes, start, found)
    proven = "yes" if bound >= found * (1 - 1e-9) else "no"
    figures = f"{given:.1f} | {found:.1f} | {bound:.1f}"
    return f"| 28 pockets, one entry each | 28 | {figures} | {proven} | {stop.elapsed:.1f} |"


def contour_sets(seed: int) -> dict[str, list[Contour]]:
    """Make sets of contours: pockets in a grid, and open and closed contours strewn over a bed."""
    cells = [(70.0 * column, 100.0 * row) for row in range(4) for column in range(7)]
    chance = random.Random(seed)
    strewn = []
    for k in range(150):
        x, y = chance.uniform(0, 560), chance.uniform(0, 360)
        points = [(x + chance.uniform(0, 40), y + chance.uniform(0, 40)) for _ in range(2 + k % 4)]
        strewn.append(Contour.polyline(points, closed=len(points) > 2))
    return {
        "28 round pockets": [Contour.circle(66, x + 35, y + 50) for x, y in cells],
        "28 rectangular pockets": [Region.rectangle(66, 96).moved(x + 2, y + 2).outer for x, y in cells],
        "11 rectangular pockets": [Region.rectangle(66, 96).moved(x + 2, y + 2).outer for x, y in cells[:11]],
        "150 strewn contours": strewn,
    }


def path_row(name: str, contours: list[Contour], seconds: float, seed: int) -> str:
    """Order contours, with the bound."""
    started = time.monotonic()
    path = order_path(contours, seconds=seconds, seed=seed, prove=True)
    spent = time.monotonic() - started
    proven = "yes" if path.proven else "no"
    figures = f"{path.given_travel:.1f} | {path.travel:.1f} | {path.bound:.1f}"
    return f"| {name} | {len(contours)} | {figures} | {proven} | {spent:.1f} |"


def entry_rows(seconds: float, seed: int) -> Iterator[str]:
    """Order 50 contours with 8 entries each, beside the best of several runs ten times as long."""
    yield "| 50 contours, 8 entries each | bound mm | best known mm | found mm | above | seconds |"
    yield "|---|---|---|---|---|---|"
    for number in range(1, 6):
        contours = eight_sided(random.Random(1000 * seed + number))
        started = time.monotonic()
        found = order_path(contours, seconds=seconds, seed=seed)
        spent = time.monotonic() - started
        long = [order_path(contours, seconds=10 * seconds, seed=seed + k).travel for k in range(1, 4)]
        best = min(found.travel, *long)
        strokes = make_strokes([Line(contour, 10) for contour in contours], None, 8)
        bound = path_bound(strokes, (0.0, 0.0), best)
        above = 100 * (found.travel / best - 1)
        figures = f"{bound:.1f} | {best:.1f} | {found.travel:.1f} | {above:.2f} %"
        yield f"| set {number} | {figures} | {spent:.1f} |"


def eight_sided(chance: random.Random) -> list[Contour]:
    """Strew 50 octagons over a bed."""
    contours = []
    for _ in range(50):
        x, y, r, first = (chance.uniform(*span) for span in ((20, 580), (20, 380), (5, 25), (0, 2 * math.pi)))
        turns = [first + 2 * math.pi * k / 8 for k in range(8)]
        contours.append(Contour.polyline([(x + r * math.cos(t), y + r * math.sin(t)) for t in turns]))
    return contours


def bed_row(units: int, seconds: float, seed: int) -> str:
    """Order the marks of a bed of units with twenty parts each, of three kinds."""
    chance = random.Random(seed)
    markings = {
        name: Marking(name, "blank", (Placed(name, 1, 0, 0, 0, tuple(_part(chance) for _ in range(20))),))
        for name in ("one", "two", "three")
    }
    pockets = tuple(
        Pocket(k + 1, "blank", 36.0 * (k % 20), 26.0 * (k // 20), 0, Region.rectangle(34, 24), ())
        for k in range(units)
    )
    sheet = CutSheet("A", "stock", pockets, MarkPath((), 0, 0, 0, 0, 0), 0.5)
    fillings = [Filling(k + 1, Unit("line", k + 1), chance.choice(list(markings))) for k in range(units)]
    started = time.monotonic()
    path = mark_path(
        fillings, sheet, markings, lambda _: MarkSetting("fine"), Machine(800, 500),
        stop=Stop(seconds=seconds), seed=seed,
    )  # fmt: skip
    spent = time.monotonic() - started
    travel = f"{path.numbered_travel:.0f} | {path.travel:.0f}"
    times = f"{path.numbered_seconds:.1f} | {path.seconds:.1f}"
    return f"| {units} units | {len(path.steps)} | {travel} | {times} | {spent:.1f} |"


def _part(chance: random.Random) -> Part:
    """Make a round, an open or a many-sided line, or a fill, within 34 x 24 mm."""
    x, y, kind = chance.uniform(2, 28), chance.uniform(2, 18), chance.randrange(4)
    if kind == 0:
        return Part("line", (Contour.circle(4, x, y),))
    if kind == 1:
        return Part("line", (Contour.polyline([(x, y), (x + 5, y + 3)], closed=False),))
    if kind == 2:
        turns = [2 * math.pi * k / 40 for k in range(40)]
        return Part("line", (Contour.polyline([(x + 2 * math.cos(t), y + 3 * math.sin(t)) for t in turns]),))
    rows = [(x, y + k / 10, x + 4, y + k / 10) for k in range(40)]
    sweeps = tuple(row if k % 2 else (row[2], row[1], row[0], row[3]) for k, row in enumerate(rows))
    return Part("fill", (Contour.circle(4, x, y),), sweeps=sweeps)
