"""Cross-sections of blanks that are not flat, in their pockets: to scale, with heights and focus.

Coordinates are in mm with y pointing down; the bed's top is at y = 0.
"""

from collections.abc import Callable, Sequence
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
_TEXT_SHARE = 0.035


@dataclass(frozen=True)
class View:
    """One upright cut: `box` is x, y, width, height; the others are path data and heights in mm.

    `labels` are heights above the bed to be written, `text` mm high: where they end in x, y, and the figure.
    """

    title: str
    box: tuple[float, float, float, float]
    body: str
    sheet: str
    bed: str
    band: tuple[float, float, float, float]
    focus: float
    labels: tuple[tuple[float, float, float], ...]
    text: float


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
    focus: float


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
    focus = _focus(blank, plan)
    x0, y0, x1, y1 = blank.footprint.bounds
    a0, b0, a1, b1 = blank.mark_area.bounds
    hole = hole_of(blank, thickness).shape("on")
    shapely.prepare(hole)
    amid, middle = (a0 + a1) / 2, (b0 + b1) / 2
    across = _within(y0, y1, lambda y: top(solid.body, pose, np.full_like(y, amid), y))
    along = _within(x0, x1, lambda x: top(solid.body, pose, x, np.full_like(x, middle)))
    views = (
        _view("across", focus, thickness, depth, across, _surface(solid.body, pose, amid, across),
              _gap(hole, [(amid, y0 - 99), (amid, y1 + 99)], 1), (b0, b1)),
        _view("along", focus, thickness, depth, along, _surface(solid.body, pose, along, middle),
              _gap(hole, [(x0 - 99, middle), (x1 + 99, middle)], 0), (a0, a1)),
    )  # fmt: skip
    heights = solid.heights(blank.mark_area, thickness)
    shim = level_shim(solid.body) if isinstance(solid.body, Turned) and solid.body.is_plain else None
    lowest, highest = float(heights.min()), float(heights.max())
    return Section(blank, thickness, pose, views, lowest, highest, depth, shim or None, focus)


def _focus(blank: Blank, plan: Plan) -> float:
    """Find the focus height of the first load with a blank; its own where none holds it."""
    lines = {line.name for line in plan.job.orders if line.blank == blank.name}
    found = (load.focus_of(f) for load in plan.loads for f in load.fillings if f.unit.line in lines)
    return next(found, blank.height)


def _within(low: float, high: float, top_at: Callable[[Floats], Floats]) -> Floats:
    """Spread places over the body, closer together towards its ends, where its outline is steep."""
    rough = np.linspace(low, high, 20 * _SAMPLES)
    there = rough[~np.isnan(top_at(rough))]
    share = (1 - np.cos(np.linspace(0, np.pi, _SAMPLES))) / 2
    return np.asarray(there[0] + (there[-1] - there[0]) * share)


def _surface(body: Body, pose: Pose, x: Floats | float, y: Floats | float) -> Floats:
    places = np.broadcast_arrays(np.asarray(x, dtype=float), np.asarray(y, dtype=float))
    return np.array([surface(body, pose, *places) for surface in (top, bottom)])


def _gap(hole: shapely.Polygon, line: Sequence[tuple[float, float]], axis: int) -> tuple[float, float]:
    """Where an upright cut opens the pocket: its ends along the cut."""
    places = shapely.get_coordinates(hole.intersection(shapely.LineString(line)))[:, axis]
    return (float(places.min()), float(places.max())) if len(places) else (0.0, 0.0)


def _view(
    title: str,
    focus: float,
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
    crown = float(np.nanmax(surface))
    peak = max(crown, focus + depth / 2)
    plates = [_box(left, gap[0], thickness), _box(gap[1], right, thickness)]
    if gap[0] == gap[1]:
        plates = [_box(left, right, thickness)]
    text = (right - left) * _TEXT_SHARE
    high = float(places[np.nanargmax(surface[0])])
    return View(
        title,
        (left, -peak - 2 * text, right - left, peak + 2 * text + 2),
        _data([Contour.polyline(np.concatenate([upper, lower]))]),
        _data(plates),
        _data([Contour.polyline([(left, 0), (right, 0)], closed=False)]),
        (area[0], -focus - depth / 2, area[1] - area[0], depth),
        -focus,
        (
            (right, -focus - text / 3, focus),
            (left + 1.5 * text, -thickness - text / 3, thickness),
            (min(high, right - 4 * text), -crown - text / 3, crown),
        ),
        text,
    )


def _box(x0: float, x1: float, thickness: float) -> Contour:
    return Contour.polyline([(x0, 0), (x1, 0), (x1, -thickness), (x0, -thickness)])


def _data(contours: Sequence[Contour]) -> str:
    return " ".join(
        "M" + "L".join(f"{x:.2f} {y:.2f}" for x, y, _ in contour.vertices) + ("Z" if contour.closed else "")
        for contour in contours
    )
