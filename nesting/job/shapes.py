"""From the shapes of a document to regions in mm."""

from collections.abc import Sequence

from shapely import MultiPoint, Polygon
from shapely.validation import explain_validity

from nesting.geometry.drawing import Drawing
from nesting.geometry.offset import offset
from nesting.geometry.region import Region
from nesting.job.document import (
    CircleDocument,
    EllipseDocument,
    FileShapeDocument,
    InsetDocument,
    PolygonDocument,
    RectangleDocument,
)
from nesting.job.folder import JobFolder
from nesting.units import to_mm

ShapeWritten = RectangleDocument | CircleDocument | EllipseDocument | PolygonDocument | FileShapeDocument


class Shapes:
    """Makes regions of a job's shapes; lengths without a unit are in `unit`."""

    def __init__(self, unit: str, folder: JobFolder) -> None:
        self.unit = unit
        self.folder = folder

    def mm(self, length: float | str) -> float:
        """Convert a length of the document, free of the noise that decimals have in binary."""
        return round(to_mm(length, self.unit), 9)

    def region(self, written: ShapeWritten, where: str) -> Region | None:
        """Make the region; None, with the reason noted, if the shape is impossible."""
        try:
            made = self._made(written, where)
        except ValueError as error:
            self.folder.findings.add(_blamed(written, where), str(error))
            return None
        return made and made.moved(self.mm(written.x), self.mm(written.y))

    def with_holes(self, outline: Region | None, holes: Sequence[ShapeWritten], where: str) -> Region | None:
        """Take holes out of an outline; `where` is the path of the list of holes."""
        regions = [self.region(hole, f"{where}[{k}]") for k, hole in enumerate(holes)]
        if outline is None or None in regions or not holes:
            return outline
        try:
            return Region(outline.outer, (*outline.holes, *(r.outer for r in regions if r)))
        except ValueError:
            message = "found a hole that leaves the footprint or meets another; allowed: holes inside it"
            self.folder.findings.add(where, message)
            return None

    def mark_area(
        self, written: ShapeWritten | InsetDocument, footprint: Region | None, where: str
    ) -> Region | None:
        """Make a blank's mark area, which must lie within its footprint."""
        if isinstance(written, InsetDocument):
            return footprint and self._inset(footprint, self.mm(written.inset), where)
        area = self.region(written, where)
        if area and footprint and not footprint.shape("outer").covers(area.shape("inner")):
            message = "reaches beyond the footprint or over a hole; allowed: an area within the footprint"
            self.folder.findings.add(where, message)
            return None
        return area

    def _made(self, written: ShapeWritten, where: str) -> Region | None:
        match written:
            case RectangleDocument():
                return Region.rectangle(*map(self.mm, (written.width, written.height, written.radius)))
            case CircleDocument():
                return Region.circle(self.mm(written.diameter))
            case EllipseDocument():
                return Region.ellipse(self.mm(written.width), self.mm(written.height))
            case PolygonDocument():
                return _polygon([(self.mm(x), self.mm(y)) for x, y in written.points])
            case FileShapeDocument():
                drawing = self.folder.drawing(written.file, f"{where}.file", unit=written.unit)
                return _outline(drawing) if drawing else None

    def _inset(self, footprint: Region, inset_mm: float, where: str) -> Region | None:
        if inset_mm == 0:
            return footprint
        pieces = offset(footprint, -inset_mm)
        if not pieces:
            message = f"found an inset of {inset_mm:g} mm, which leaves nothing of the footprint"
            self.folder.findings.add(f"{where}.inset", message)
            return None
        return max(pieces, key=lambda piece: piece.area)


def _blamed(written: ShapeWritten, where: str) -> str:
    key = {"polygon": "points", "file": "file", "rectangle": "radius"}.get(written.shape)
    return f"{where}.{key}" if key else where


def _polygon(points: list[tuple[float, float]]) -> Region:
    if len(set(points)) < 3:
        raise ValueError("found fewer than three different points; allowed: three or more")
    corners = [p for k, p in enumerate(points) if p != points[k - 1]]
    if MultiPoint(corners).convex_hull.area <= 1e-9:
        raise ValueError("the points enclose no area; allowed: an outline with an area")
    try:
        return Region.polygon(corners)
    except ValueError:
        raise ValueError(_crossing(explain_validity(Polygon(corners)))) from None


def _crossing(reason: str) -> str:
    """Say in our words what shapely says of a polygon that is not plain: a reason, and ``[x y]``."""
    x, _, y = reason.partition("[")[2].rstrip("]").partition(" ")
    place = f"({float(x):g}, {float(y):g}) mm"
    return f"the outline crosses or touches itself at {place}; allowed: a plain outline"


def _outline(drawing: Drawing) -> Region:
    """Make a region of a drawing's contours: the largest is the outline, the others are holes in it."""
    contours = drawing.contours
    if drawing.inlays:
        raise ValueError(
            "the drawing holds a picture; allowed: closed lines, the outline and the holes in it"
        )
    if not contours:
        raise ValueError("the drawing is empty; allowed: closed lines, the outline and the holes in it")
    if not all(contour.closed for contour in contours):
        raise ValueError("the drawing has open lines; allowed: closed lines, the outline and the holes in it")
    order = sorted(contours, key=lambda contour: -abs(contour.area))
    x, y, *_ = order[0].bounds
    outer, *holes = (contour.moved(-x, -y) for contour in order)
    return Region(outer, tuple(holes))
