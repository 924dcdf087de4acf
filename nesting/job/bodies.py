"""From the bodies of a document to solids, laid into the job's sheets."""

from collections.abc import Sequence
from dataclasses import dataclass

from nesting.body.body import Body, Sphere, Turned
from nesting.body.focus import best_focus
from nesting.body.rest import level_shim
from nesting.body.solid import Attachment, Solid
from nesting.geometry.region import Region
from nesting.job.document import (
    BlankDocument,
    BodyShape,
    CylinderDocument,
    SphereDocument,
    SteppedDocument,
    TaperedDocument,
)
from nesting.job.shapes import Shapes


@dataclass(frozen=True)
class Laid:
    """A solid and how it lies in the job's sheets: its silhouette, and its surface under the lens."""

    solid: Solid
    outline: Region
    thickness: float
    depth: float

    def height_over(self, area: Region) -> tuple[float, float]:
        """Give the best focus height over an area, and how far the surface rises and falls there."""
        heights = self.solid.heights(area, self.thickness)
        return round(best_focus(heights, self.depth), 6), round(float(heights.max() - heights.min()), 6)


class Bodies:
    """Makes the solids of a job whose sheets are `thicknesses` mm thick, under a lens of so much depth."""

    def __init__(self, shapes: Shapes, thicknesses: Sequence[float], depth: float) -> None:
        self._shapes, self._mm, self._findings = shapes, shapes.mm, shapes.folder.findings
        self._thicknesses, self._depth = thicknesses, depth

    def laid(self, written: BlankDocument, where: str) -> Laid | None:
        """Lay a blank's body; None for a flat blank, or with the reason noted if it cannot be laid."""
        if written.body is None:
            self._check_flat(written, where)
            return None
        for key in ("footprint", "height"):
            if getattr(written, key) is not None:
                self._findings.add(
                    f"{where}.{key}", f"found beside a body, which has a {key} of its own; drop it"
                )
        try:
            return self._laid(written.body, f"{where}.body")
        except ValueError as error:
            self._findings.add(f"{where}.body", str(error))
            return None

    def _check_flat(self, written: BlankDocument, where: str) -> None:
        if written.footprint is None:
            self._findings.add(f"{where}.footprint", "missing; needed: a footprint, or a body")
        elif written.height is None:
            self._findings.add(f"{where}.height", "missing; needed: height of the marked face above the bed")

    def _laid(self, written: BodyShape, where: str) -> Laid | None:
        solid = self._solid(written, where)
        if solid is None or not self._thicknesses:
            return None
        if solid.pocket_width is not None and len(self._thicknesses) > 1:
            raise ValueError("found a pocket_width; how the body then lies needs stock of one thickness")
        for thickness in self._thicknesses:
            if solid.seat(thickness) is None:
                raise ValueError(f"the body lies above the face of a sheet {thickness:g} mm thick")
        thickness = self._thicknesses[-1]
        return Laid(solid, solid.outline(thickness), thickness, self._depth)

    def _solid(self, written: BodyShape, where: str) -> Solid | None:
        body = self._body(written)
        outlines = [
            self._shapes.region(part.outline, f"{where}.attachments[{k}].outline")
            for k, part in enumerate(written.attachments)
        ]
        attachments = tuple(
            Attachment(outline, self._mm(part.bottom))
            for outline, part in zip(outlines, written.attachments, strict=True)
            if outline
        )
        if len(attachments) < len(outlines):
            return None
        width = None if written.pocket_width is None else self._mm(written.pocket_width)
        return Solid(body, width, self._shim(written, body), attachments)

    def _shim(self, written: BodyShape, body: Body) -> float:
        if isinstance(written, SphereDocument):
            return 0.0
        return round(level_shim(body), 6) if written.shim == "level" else self._mm(written.shim)

    def _body(self, written: BodyShape) -> Body:
        match written:
            case CylinderDocument():
                return Turned.cylinder(self._mm(written.diameter), self._mm(written.length))
            case TaperedDocument():
                sizes = (written.small_diameter, written.large_diameter, written.length)
                return Turned.tapered(*map(self._mm, sizes))
            case SteppedDocument():
                return Turned(tuple((self._mm(at), self._mm(d) / 2) for at, d in written.profile))
            case SphereDocument():
                return Sphere(self._mm(written.diameter) / 2)
