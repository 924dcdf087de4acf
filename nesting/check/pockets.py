"""The check of one pocket: its outline against the blank, its path against the outline."""

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from nesting.check.distances import SAME_MM, Places, distances, samples, signed_distances
from nesting.check.report import Findings
from nesting.check.seats import LARGE_MM, hole_fault, united, wanted_hole
from nesting.check.solids import chain, polygon
from nesting.geometry.contour import Contour, Vertex
from nesting.geometry.region import Region
from nesting.job.job import Blank
from nesting.plan_values import Disc, Pocket

_ROUNDED = 7
_FINE_MM = 1e-4


class PocketCheck:
    """Checks pockets; pockets of equal shape are measured once."""

    def __init__(self, findings: Findings) -> None:
        self._findings = findings
        self._clearances: dict[object, str | None] = {}
        self._kerfs: dict[object, str | None] = {}

    def check(self, pocket: Pocket, blank: Blank, kerf: float, thickness: float, place: str) -> None:
        """Check the outline and the path of one pocket in a sheet so thick."""
        if pocket.outline.holes:
            self._findings.add("clearance", place, "a pocket is one hole and has no island; drop it")
        home = _Home(pocket.x, pocket.y, pocket.turn)
        outline, path = home.contour(pocket.outline.outer), tuple(map(home.contour, pocket.path))
        discs = tuple(home.disc(disc) for disc in pocket.notches)
        key = (blank.name, outline, thickness, discs)
        if key not in self._clearances:
            self._clearances[key] = _hole_fault(outline, blank, thickness, discs)
        if found := self._clearances[key]:
            self._findings.add("clearance" if blank.solid is None else "seat", place, found)
        shape = (outline, path, kerf)
        if shape not in self._kerfs:
            self._kerfs[shape] = _path_fault(outline, path, kerf)
        if found := self._kerfs[shape]:
            self._findings.add("kerf", place, found)


class _Home:
    """Puts what lies in a pocket back into its blank's coordinates, so that equal pockets become equal."""

    def __init__(self, x: float, y: float, turn: float) -> None:
        self._shift = complex(x, y)
        quarters, rest = divmod(-turn % 360, 90)
        self._spin = 1j ** int(quarters) * (np.exp(1j * np.radians(rest)) if rest else 1)

    def contour(self, contour: Contour) -> Contour:
        return Contour(tuple(map(self._vertex, contour.vertices)), contour.closed)

    def disc(self, disc: Disc) -> Disc:
        """Put the middle of a disc back."""
        x, y, _ = self._vertex((*disc[:2], 0.0))
        return x, y, disc[2]

    def _vertex(self, vertex: Vertex) -> Vertex:
        place = (complex(*vertex[:2]) - self._shift) * self._spin
        # adding 0 turns a negative zero into zero
        return round(place.real, _ROUNDED) + 0.0, round(place.imag, _ROUNDED) + 0.0, round(vertex[2], 9)


def _hole_fault(outline: Contour, blank: Blank, thickness: float, discs: tuple[Disc, ...]) -> str | None:
    """Say what is wrong with a pocket's outline, in its blank's coordinates."""
    if blank.solid is not None:
        plain = wanted_hole(blank, thickness)
        return _disc_fault(discs, blank, plain, LARGE_MM) or hole_fault(outline, blank, thickness, discs)
    if not discs:
        return _outline_fault(outline, blank)
    plain = shapely.Polygon(chain(blank.footprint.outer, _FINE_MM)).buffer(blank.clearance, quad_segs=64)
    if fault := _disc_fault(discs, blank, plain):
        return fault
    wanted, found = united(plain, discs), shapely.Polygon(chain(outline, _FINE_MM))
    for one, other, said in ((wanted, found, "too small"), (found, wanted, "too large")):
        if not other.buffer(2 * SAME_MM).covers(one):
            return f"the pocket with its notches is {said}; make it again"
    return None


def _disc_fault(
    discs: tuple[Disc, ...], blank: Blank, plain: BaseGeometry, within: float = SAME_MM
) -> str | None:
    """Say which disc nobody asked for, or does not meet the pocket, whose edge may be off by `within` mm."""
    sizes = [disc[2] for disc in discs]
    if unknown := [size for size in sizes if size not in {blank.notch, blank.corner_relief} - {0.0}]:
        return f"the blank asks for no notch or relief of {unknown[0]:g} mm; drop it"
    if blank.notch != blank.corner_relief and sizes.count(blank.notch) > 2:
        return f"{sizes.count(blank.notch)} finger notches; a pocket has two at the most"
    loose = [d for d in discs if not plain.distance(shapely.Point(d[:2])) <= within]
    return f"a notch at {loose[0][0]:g}, {loose[0][1]:g} lies beside the pocket; drop it" if loose else None


def _outline_fault(outline: Contour, blank: Blank) -> str | None:
    """Say what is wrong with a pocket's outline, in its blank's coordinates.

    The outline of a grown footprint is the curve round it on which every point is the clearance away.
    """
    footprint = blank.footprint.outer
    clear = signed_distances(samples(outline), footprint)
    worst = clear[np.abs(clear - blank.clearance).argmax()]
    back = distances(samples(footprint), outline).min()
    inside = shapely.Polygon(chain(footprint)).representative_point()
    if abs(worst - blank.clearance) > SAME_MM:
        found = float(worst)
    elif back < blank.clearance - SAME_MM:
        found = float(back)
    elif not shapely.Polygon(chain(outline)).contains(inside):
        return "the pocket does not go round its blank; make it again"
    else:
        return None
    return f"{found:.4f} mm from the blank; the clearance is {blank.clearance:g} mm; make the pocket again"


def _path_fault(outline: Contour, path: tuple[Contour, ...], kerf: float) -> str | None:
    """Say what is wrong with a pocket's cut path."""
    if not path or not all(contour.closed for contour in path):
        return "the path must be closed contours, one or more; make it again"
    depths = np.concatenate([-signed_distances(samples(contour), outline) for contour in path])
    if kerf == 0:
        depths = np.abs(depths)
    worst = float(depths[np.abs(depths - kerf / 2).argmax()])
    back = _back(samples(outline), path)
    if abs(worst - kerf / 2) > SAME_MM or back < kerf / 2 - SAME_MM:
        found = worst if abs(worst - kerf / 2) > SAME_MM else back
        return f"{found:.4f} mm inside the outline; half the kerf is {kerf / 2:g} mm; make the path again"
    wanted = polygon(Region(outline)).buffer(-kerf / 2, quad_segs=64)
    areas = sum(shapely.Polygon(chain(contour)).area for contour in path)
    if abs(areas - wanted.area) > SAME_MM * max(wanted.length, 1):
        return f"the path goes round {areas:.2f} mm²; the pocket needs {wanted.area:.2f} mm²; make it again"
    return None


def _back(places: Places, path: tuple[Contour, ...]) -> float:
    return float(np.min([distances(places, contour).min() for contour in path]))
