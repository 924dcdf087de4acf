"""Cross-sections of blanks that are not flat, in their pockets: to scale, with heights and focus.

Coordinates are in mm with y pointing down; the bed's top is at y = 0.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from nesting.body.body import Body, Pose, Turned
from nesting.body.focus import FocusZone
from nesting.body.rest import level_shim
from nesting.body.surface import bottom, top
from nesting.fixture.bend import Bend, plan_bends
from nesting.fixture.focus import plan_focus
from nesting.fixture.hole import hole_of
from nesting.fixture.saving import Cut, compared
from nesting.geometry.contour import Contour
from nesting.job.job import Blank
from nesting.plan_values import Plan
from nesting_adapters.plan_lookup import Lookup

Floats = NDArray[np.float64]

_SAMPLES = 181
_BESIDE_MM = 12.0


@dataclass(frozen=True)
class View:
    """One upright cut: `box` is x, y, width, height; the others are path data and heights in mm."""

    title: str
    box: tuple[float, float, float, float]
    body: str
    sheet: str
    bed: str
    band: tuple[float, float, float, float]
    focus: float


@dataclass(frozen=True)
class Section:
    """A blank in a sheet so thick: across its axis amid the mark area, and along it."""

    blank: Blank
    thickness: float
    pose: Pose
    views: tuple[View, ...]
    lowest: float
    highest: float
    depth: float
    shim: float | None


@dataclass(frozen=True)
class CrossSections:
    """What the report shows of bodies."""

    lookup: Lookup

    @property
    def sections(self) -> list[Section]:
        """Every kind of body in every thickness of sheet that has a pocket for it."""
        plan, stock = self.lookup.plan, self.lookup.stock
        found = dict.fromkeys(
            (pocket.blank, stock[sheet.stock].thickness)
            for sheet in plan.all_sheets
            for pocket in sheet.pockets
        )
        blanks = self.lookup.blanks
        return [_section(blanks[name], t, plan) for name, t in found if blanks[name].solid is not None]

    @property
    def focus(self) -> list[tuple[str, FocusZone]]:
        """What is in focus of each marking on a body."""
        return plan_focus(self.lookup.plan)

    @property
    def bends(self) -> list[Bend]:
        """The artworks on bodies, from above and along the surface."""
        return plan_bends(self.lookup.plan)

    @property
    def savings(self) -> list[tuple[str, Cut, Cut]]:
        """The sheets with pockets for bodies: their cuts, and those of full-width rectangles instead."""
        blanks = self.lookup.blanks
        return [
            (sheet.name, *compared(sheet.pockets, blanks))
            for sheet in self.lookup.plan.sheets
            if any(blanks[pocket.blank].solid for pocket in sheet.pockets)
        ]


def _section(blank: Blank, thickness: float, plan: Plan) -> Section:
    solid = blank.solid
    assert solid is not None, "flat blanks have no section"
    depth, pose = plan.job.machine.depth_of_focus, solid.pose(thickness)
    x0, y0, x1, y1 = blank.footprint.bounds
    a0, b0, a1, b1 = blank.mark_area.bounds
    hole = hole_of(blank, thickness).shape("on")
    shapely.prepare(hole)
    amid, middle = (a0 + a1) / 2, (b0 + b1) / 2
    across = np.linspace(y0, y1, _SAMPLES)
    along = np.linspace(x0, x1, _SAMPLES)
    views = (
        _view("across", blank, thickness, depth, across, _surface(solid.body, pose, amid, across),
              _gap(hole, [(amid, y0 - 99), (amid, y1 + 99)], 1), (b0, b1)),
        _view("along", blank, thickness, depth, along, _surface(solid.body, pose, along, middle),
              _gap(hole, [(x0 - 99, middle), (x1 + 99, middle)], 0), (a0, a1)),
    )  # fmt: skip
    heights = solid.heights(blank.mark_area, thickness)
    shim = level_shim(solid.body) if isinstance(solid.body, Turned) and solid.body.is_plain else None
    return Section(
        blank, thickness, pose, views, float(heights.min()), float(heights.max()), depth, shim or None
    )


def _surface(body: Body, pose: Pose, x: Floats | float, y: Floats | float) -> Floats:
    places = np.broadcast_arrays(np.asarray(x, dtype=float), np.asarray(y, dtype=float))
    return np.array([surface(body, pose, *places) for surface in (top, bottom)])


def _gap(hole: shapely.Polygon, line: Sequence[tuple[float, float]], axis: int) -> tuple[float, float]:
    """Where an upright cut opens the pocket: its ends along the cut."""
    places = shapely.get_coordinates(hole.intersection(shapely.LineString(line)))[:, axis]
    return (float(places.min()), float(places.max())) if len(places) else (0.0, 0.0)


def _view(
    title: str,
    blank: Blank,
    thickness: float,
    depth: float,
    places: Floats,
    surface: Floats,
    gap: tuple[float, float],
    area: tuple[float, float],
) -> View:
    there = ~np.isnan(surface).any(axis=0)
    upper = np.column_stack([places[there], -surface[0, there]])
    lower = np.column_stack([places[there], -surface[1, there]])[::-1]
    left, right = min(float(places[0]), gap[0]) - _BESIDE_MM, max(float(places[-1]), gap[1]) + _BESIDE_MM
    peak = max(float(np.nanmax(surface)), blank.height + depth / 2)
    plates = [_box(left, gap[0], thickness), _box(gap[1], right, thickness)]
    return View(
        title,
        (left, -peak - 6, right - left, peak + 12),
        _data([Contour.polyline(np.concatenate([upper, lower]))]),
        _data(plates),
        _data([Contour.polyline([(left, 0), (right, 0)], closed=False)]),
        (area[0], -blank.height - depth / 2, area[1] - area[0], depth),
        -blank.height,
    )


def _box(x0: float, x1: float, thickness: float) -> Contour:
    return Contour.polyline([(x0, 0), (x1, 0), (x1, -thickness), (x0, -thickness)])


def _data(contours: Sequence[Contour]) -> str:
    return " ".join(
        "M" + "L".join(f"{x:.2f} {y:.2f}" for x, y, _ in contour.vertices) + ("Z" if contour.closed else "")
        for contour in contours
    )
