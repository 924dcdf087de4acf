"""The check of blanks that are not flat: silhouette, height and hole against samples of the solid."""

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from nesting.body.body import Sphere
from nesting.check.report import Findings
from nesting.check.sampled import Sampled
from nesting.check.solids import Floats, chain, polygon
from nesting.geometry.contour import Contour
from nesting.job.job import Blank
from nesting.plan_values import Disc, Plan

SHORT_MM = 0.01
"""A seat may be this much too small, for that is how fine the sampling is."""
LARGE_MM = 0.05
"""A seat or a silhouette may be this much too large."""
_HEIGHT_MM = 0.05
_SHARE = 0.03
_GRID = 40


def check_bodies(plan: Plan, findings: Findings) -> None:
    """Check the silhouette and the height of each blank that is not flat."""
    thickness = max((stock.thickness for stock in plan.job.stock), default=0.0)
    for blank in plan.job.blanks:
        if blank.solid is None:
            continue
        findings.count(bodies=1)
        body = _sampled(blank, thickness)
        parts = [polygon(part.outline) for part in blank.solid.attachments]
        wanted = shapely.union_all([body.shadow(body.peak), *parts])
        if fault := outline_fault(polygon(blank.footprint), wanted):
            findings.add("seat", f"blank {blank.name}", f"its silhouette {fault}; make it again")
        if fault := _height_fault(blank, body, plan.job.machine.depth_of_focus):
            findings.add("seat", f"blank {blank.name}", fault)


def united(hole: BaseGeometry, discs: Sequence[Disc]) -> BaseGeometry:
    """Unite a hole with the discs cut out with it."""
    return shapely.union_all([hole, *(shapely.Point(x, y).buffer(d / 2, quad_segs=256) for x, y, d in discs)])


def hole_fault(outline: Contour, blank: Blank, thickness: float, discs: Sequence[Disc] = ()) -> str | None:
    """Say what is wrong with the hole for a body, in its blank's coordinates."""
    assert blank.solid is not None, "a flat blank has no solid"
    wanted = united(wanted_hole(blank, thickness), discs)
    fault = outline_fault(shapely.Polygon(chain(outline)), wanted)
    return f"the pocket {fault}; make it again" if fault else None


@lru_cache(maxsize=256)
def wanted_hole(blank: Blank, thickness: float) -> BaseGeometry:
    """Draw the hole: what lies below the face with the clearance round it, or a slot as wide as set."""
    solid, clearance = blank.solid, blank.clearance
    if solid is None:
        return shapely.Polygon(chain(blank.footprint.outer)).buffer(clearance, quad_segs=64)
    below = _sampled(blank, thickness).shadow(thickness)
    low = [polygon(part.outline) for part in solid.attachments if part.bottom < thickness]
    if solid.pocket_width is None:
        return shapely.union_all([below, *low]).buffer(clearance, quad_segs=64)
    half = solid.pocket_width / 2
    if isinstance(solid.body, Sphere):
        return shapely.Point(0, 0).buffer(half, quad_segs=256)
    x0, _, x1, _ = below.bounds
    slot = shapely.box(x0 - clearance, -half, x1 + clearance, half).segmentize(1.0)
    return shapely.union_all([slot, *low])


@lru_cache(maxsize=256)
def _sampled(blank: Blank, thickness: float) -> Sampled:
    assert blank.solid is not None, "a flat blank has no solid"
    return Sampled(blank.solid, thickness)


def outline_fault(found: BaseGeometry, wanted: BaseGeometry) -> str | None:
    """Compare an outline with the corners of the sampled one, which lie close together."""
    short = _furthest(wanted, found)
    if short > SHORT_MM:
        return f"is {short:.3f} mm too small; allowed: {SHORT_MM:g} mm"
    if not wanted.buffer(LARGE_MM).covers(found):
        return f"is {_furthest(found, wanted):.3f} mm too large; allowed: {LARGE_MM:g} mm"
    return None


def _furthest(one: BaseGeometry, other: BaseGeometry) -> float:
    """How far the furthest point of an outline lies outside another."""
    corners = shapely.points(shapely.get_coordinates(one))
    return float(shapely.distance(corners, other).max())


def _height_fault(blank: Blank, body: Sampled, depth: float) -> str | None:
    """Compare the stated relief and focus height with the sampled surface of the mark area."""
    heights = _heights(blank, body)
    relief = float(heights.max() - heights.min())
    if abs(relief - blank.relief) > _HEIGHT_MM + 0.02 * relief:
        return f"its mark area rises and falls by {relief:.3f} mm; stated: {blank.relief:g} mm"
    if relief <= depth:
        off = abs(blank.height - (heights.max() + heights.min()) / 2)
        return f"its focus height is {off:.3f} mm off" if off > _HEIGHT_MM + 0.02 * relief else None
    in_focus = (np.abs(heights[:, None] - heights) <= depth / 2).mean(axis=0)
    found = (np.abs(heights - blank.height) <= depth / 2 + 1e-6).mean()
    if found < in_focus.max() - _SHARE:
        return (
            f"its focus height gets {found:.0%} of the mark area into focus; {in_focus.max():.0%} is possible"
        )
    return None


def _heights(blank: Blank, body: Sampled) -> Floats:
    """Sample the surface over the mark area, its edge included."""
    area = polygon(blank.mark_area)
    x0, y0, x1, y1 = area.bounds
    x, y = (grid.ravel() for grid in np.meshgrid(np.linspace(x0, x1, _GRID), np.linspace(y0, y1, _GRID)))
    inside = shapely.intersects_xy(area, x, y)
    edge = chain(blank.mark_area.outer, 0.01)
    heights = body.top(np.concatenate([x[inside], edge[:, 0]]), np.concatenate([y[inside], edge[:, 1]]))
    return np.asarray(heights[~np.isnan(heights)])
