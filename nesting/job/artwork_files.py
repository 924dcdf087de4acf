"""What an artwork of a job shows when it comes from a file: a drawing, the outlines of a picture, or dots."""

from dataclasses import replace

from nesting.geometry.drawing import Drawing
from nesting.geometry.inside import TangleError
from nesting.geometry.stroke import outlined
from nesting.job.document import ArtworkDocument
from nesting.job.inlays import dots_in, inverted
from nesting.job.job import Dots
from nesting.job.shapes import Shapes
from nesting.ports import Tracing

Shown = tuple[Drawing | Dots, tuple[Dots, ...]]
"""A drawing and what of it is dots; or a picture as dots."""


class ArtworkFiles:
    """Reads the files of artworks; every problem is noted."""

    def __init__(self, shapes: Shapes) -> None:
        self._folder, self._mm = shapes.folder, shapes.mm
        self._findings = shapes.folder.findings

    def shown(self, written: ArtworkDocument, file: str, where: str) -> Shown | None:
        """Read the file of an artwork; None if that fails."""
        if self._folder.is_picture(file):
            found = self._picture(written, file, where)
            return None if found is None else (found, ())
        return self._drawing(written, file, where)

    def _picture(self, written: ArtworkDocument, file: str, where: str) -> Drawing | Dots | None:
        raster = written.raster
        if "strokes" in written.model_fields_set:
            self._findings.add(f"{where}.strokes", f"{file!r} is a picture and has no lines; leave it out")
        if written.fonts:
            self._findings.add(f"{where}.fonts", f"{file!r} is a picture and has no texts; leave it out")
        if raster.how == "dots":
            picture = self._folder.picture(file, f"{where}.file", raster.ppi, raster.inverted)
            return None if picture is None else Dots(picture, raster.dither, _threshold(written))
        tracing = self._tracing(written)
        return self._folder.traced(file, f"{where}.file", tracing, raster.ppi, raster.inverted)

    def _drawing(self, written: ArtworkDocument, file: str, where: str) -> Shown | None:
        if written.fonts and written.unit is None:
            drawing = self._folder.lettered(file, where, written.fonts)
        else:
            drawing = self._folder.drawing(file, f"{where}.file", unit=written.unit)
        if drawing is None:
            return None
        self._check(written, drawing, file, where)
        if written.raster.inverted:
            drawing = inverted(drawing)
        if written.raster.how == "outlines":
            drawing = self._folder.with_outlines(drawing, file, f"{where}.file", self._tracing(written))
        if drawing is None:
            return None
        try:
            drawn = outlined(drawing) if written.strokes == "outlines" else drawing
            dots = tuple(dots_in(drawn, written.raster.dither, _threshold(written)))
        except TangleError as error:
            self._findings.add(f"{where}.file", str(error))
            return None
        return replace(drawn, inlays=()), dots

    def _check(self, written: ArtworkDocument, drawing: Drawing, file: str, where: str) -> None:
        """Note keys that do not go with the drawing."""
        if written.fit == "true" and not drawing.sized:
            message = (
                f"found 'true', but {file!r} does not state its size in length units; state width and "
                'height in it, such as width="40mm", or use fit = "size" with a width or height'
            )
            self._findings.add(f"{where}.fit", message)
        if "raster" in written.model_fields_set and not drawing.inlays:
            message = f"found a table for pixels, but {file!r} is a drawing without pictures; leave it out"
            self._findings.add(f"{where}.raster", message)
        elif written.raster.ppi is not None:
            message = f"found pixels per inch, but the drawing {file!r} says how large its pictures are"
            self._findings.add(f"{where}.raster.ppi", message + "; leave it out")

    def _tracing(self, written: ArtworkDocument) -> Tracing:
        raster = written.raster
        return Tracing(raster.threshold, self._mm(raster.smooth), raster.speck)


def _threshold(written: ArtworkDocument) -> float:
    return 0.5 if written.raster.threshold is None else written.raster.threshold
