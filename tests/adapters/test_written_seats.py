"""Pockets of tapered cups as they stand in the files, against the exact curve of the shadow.

The curve is that of handbook section 2 [D]: the parabola of the section at the sheet's face, closed straight
at the small end and by the ellipse of the rim at the big end. Nothing of the project takes part in it.
"""

import io
import math
from collections.abc import Callable
from functools import cache
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray
from svg.path import parse_path

from nesting import make_plan
from nesting.job.load import job_from
from nesting.plan_values import Plan
from nesting_adapters.dxf_writer import DxfWriter
from nesting_adapters.rs274 import Rs274Writer
from nesting_adapters.svg_writer import SvgWriter
from tests.adapters.rs274_reader import Reader
from tests.job.test_load import sheet, small

LARGE_MM = 0.02
"""A written curve is nowhere further outside the exact one than this, and never inside."""

CLEARANCE, KERF = 0.3, 0.2
Points = NDArray[np.float64]
Reading = Callable[[Plan, str], list[Points]]

SIZES: dict[int, list[tuple[float, float, float]]] = {
    3: [(45, 35, 200)],
    6: [(45, 35, 200), (45, 35, 160)],
    9: [(44, 30.5, 170)],
}
"""The cups of the handbook's table by the thickness of the sheet."""


def exact(large: float, small_: float, length: float, t: float) -> Points:
    """Points along the shadow of what lies below the face, in the coordinates of the silhouette."""
    alpha = math.atan((large - small_) / length)
    slant, back = length / math.cos(alpha), t * math.tan(alpha)
    u = np.linspace(-back, slant - back, 1501)
    y = np.sqrt(2 * t * (small_ / math.cos(alpha) + u * math.tan(alpha)) - t**2 * (1 - math.tan(alpha) ** 2))
    # along the rim by its angle, so that the points lie close where the ellipse is steep
    turn = np.linspace(0, math.acos(1 - t / math.cos(alpha) / large), 801)[::-1]
    v = large * (1 - np.cos(turn))
    rim = np.column_stack([slant - v * math.sin(alpha), large * np.sin(turn)])
    side = np.concatenate([np.column_stack([u, y]), rim])
    mirrored = np.concatenate([side, side[::-1] * (1, -1)])
    mirrored[:, 0] += 2 * small_ * math.sin(alpha)
    return mirrored


@cache
def plan_of(thickness: int) -> Plan:
    """Cups of the handbook's sizes, some turned and some not, on one thickness of sheet."""
    cups = [
        {
            "name": f"cup {k}",
            "body": {"shape": "tapered", "small_diameter": 2 * b, "large_diameter": 2 * a, "length": length},
            "mark_area": {"shape": "rectangle", "width": 60, "height": 10, "x": 70, "y": -5},
            "clearance": CLEARANCE,
            "gap": 2,
            "setting": "wood",
            "turns": [0, 180],
        }
        for k, (a, b, length) in enumerate(SIZES[thickness])
    ]
    outline = {"shape": "rectangle", "width": 500, "height": 400}
    orders = [{"blank": cup["name"], "quantity": 2} for cup in cups]
    document = small(blanks=cups, orders=orders, stock=[sheet(outline=outline, thickness=thickness)])
    document["machine"] = {"bed": {"width": 600, "height": 500}, "kerf": {"plywood": KERF}}
    return make_plan(job_from({**document, "sheet_use": "once"}), effort=0.5)


def in_svg(plan: Plan, name: str) -> list[Points]:
    """Read the paths of pockets, with svg.path's own arithmetic of arcs."""
    page = ElementTree.fromstring(SvgWriter().files(plan)[f"sheet-{name}-pockets.svg"])
    svg = "{http://www.w3.org/2000/svg}"
    group = next(g for g in page.iter(f"{svg}g") if g.get("id") == "pocket-paths")
    height = float(page.get("viewBox", "").split()[3])
    read = []
    for path in group.iter(f"{svg}path"):
        points = np.array([s.point(k / 40) for s in parse_path(path.get("d", "")) for k in range(41)])
        read.append(np.column_stack([points.real, height - points.imag]))
    return read


def in_dxf(plan: Plan, name: str) -> list[Points]:
    """Read the closed polylines of the layer for pockets, with ezdxf's own arithmetic of bulges."""
    ezdxf: Any = pytest.importorskip("ezdxf", reason="the extra dxf is not installed")
    path: Any = pytest.importorskip("ezdxf.path", reason="the extra dxf is not installed")
    content = DxfWriter().files(plan)[f"sheet-{name}-pockets.dxf"].decode("cp1252")
    lines = ezdxf.read(io.StringIO(content)).modelspace().query("LWPOLYLINE")
    kept = [line for line in lines if line.dxf.layer == "pocket-paths"]
    return [np.array([(p.x, p.y) for p in path.make_path(line).flattening(1e-5)]) for line in kept]


def in_rs274(plan: Plan, name: str) -> list[Points]:
    """Run the program with the reader of the tests' own."""
    strokes = Reader(Rs274Writer().files(plan)[f"sheet-{name}-pockets.ngc"].decode()).strokes
    read = [np.array(list(stroke.along(40))) for stroke in strokes]
    return [np.column_stack([points.real, points.imag]) for points in read]


READINGS: dict[str, Reading] = {"svg": in_svg, "dxf": in_dxf, "rs274": in_rs274}
ROUNDING = 1e-4
"""What four decimals, and reading arcs as short lines, may take away."""


@pytest.mark.parametrize("thickness", SIZES)
@pytest.mark.parametrize("reading", READINGS)
def test_written_pockets_follow_the_exact_curve(reading: str, thickness: int) -> None:
    """Paths lie outside the curve by clearance less half the kerf, never nearer, up to 0.02 mm further."""
    plan = plan_of(thickness)
    sizes = {f"cup {k}": size for k, size in enumerate(SIZES[thickness])}
    wanted = CLEARANCE - KERF / 2
    for cut in plan.sheets:
        paths = READINGS[reading](plan, cut.name)
        assert len(paths) == len(cut.pockets)
        for pocket in cut.pockets:
            turn = math.radians(pocket.turn)
            spin = np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
            curve = shapely.Polygon(exact(*sizes[pocket.blank], thickness) @ spin + (pocket.x, pocket.y))
            (path,) = [p for p in paths if curve.contains(shapely.Point(p.mean(axis=0)))]
            hole = shapely.Polygon(path)
            assert hole.contains(curve)
            away = shapely.distance(shapely.points(path), curve.exterior)
            assert away.min() >= wanted - ROUNDING
            assert away.max() <= wanted + LARGE_MM
            # looked at from the curve too, between the points that were read
            back = shapely.distance(shapely.points(shapely.get_coordinates(curve.exterior)), hole.exterior)
            assert wanted - ROUNDING <= back.min()
            assert back.max() <= wanted + LARGE_MM
