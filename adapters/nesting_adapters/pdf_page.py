"""What the PDF writers draw with: paper, a font, texts and contours, all in millimetres with y up."""

import math
from collections.abc import Callable, Hashable, Iterable, Iterator
from functools import cache, lru_cache
from io import BytesIO
from pathlib import Path
from typing import Any, Literal

from nesting.geometry.contour import Arc, Contour, Vertex

PaperName = Literal["A4", "letter"]
PAPERS_MM: dict[PaperName, tuple[float, float]] = {"A4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""Width and height upright: ISO 216 and ANSI/ASME Y14.1."""

MM = 72 / 25.4
"""Points in a millimetre: a point is 1/72 in (ISO 32000-1, section 8.3.2.3)."""

WIDEST_CURVE = math.pi / 4
"""A Bézier curve stands for an arc of 45° to 4 millionths of its radius."""

REGULAR, BOLD = "Vera", "VeraBd"
LACKING = "¤"
"""Stands for a character that the font lacks; it says so at the foot of the page."""

Spot = tuple[float, float]
Colour = tuple[float, float, float]
BLACK: Colour = (0, 0, 0)
GREY: Colour = (0.45, 0.45, 0.45)


class Pages:
    """A PDF document, page by page.

    Parameters
    ----------
    width, height
        Of the paper, mm.
    title
        Of the document.
    """

    def __init__(self, width: float, height: float, title: str) -> None:
        from reportlab.pdfgen.canvas import Canvas

        _register_fonts()
        self.width, self.height = width, height
        self._bytes = BytesIO()
        # without a date, so that the same plan gives the same bytes
        self._canvas: Any = Canvas(
            self._bytes, pagesize=(width * MM, height * MM), invariant=1, pageCompression=1
        )
        self._canvas.setTitle(shown(title))
        self._canvas.setViewerPreference("PrintScaling", "None")
        self._started = False
        self._texts: _Texts | None = None
        self._drawings: dict[Hashable, str] = {}
        self.lacking = False

    def start(self) -> None:
        """Begin a page."""
        self._put_texts()
        if self._started:
            self._canvas.showPage()
        self._started = True
        self.lacking = False
        self._canvas.scale(MM, MM)

    def finished(self) -> bytes:
        """End the document and give its bytes."""
        from reportlab import rl_config

        self._put_texts()
        before, rl_config.useA85 = rl_config.useA85, 0  # base 85 in Python takes longer than all the rest
        try:
            self._canvas.save()
        finally:
            rl_config.useA85 = before
        return self._bytes.getvalue()

    def text(
        self, x: float, y: float, text: str, size: float = 3.2, *, bold: bool = False,
        colour: Colour = BLACK, align: Literal["left", "centre"] = "left",
    ) -> None:  # fmt: skip
        """Write a line of text, `size` mm high, its baseline at y."""
        written = shown(text)
        self.lacking = self.lacking or (LACKING in written and LACKING not in text)
        if align == "centre":
            x -= text_width(text, size, bold=bold) / 2
        if self._texts is None:
            self._texts = _Texts(self._canvas)
        self._texts.put(x, y, written, (BOLD if bold else REGULAR, size), colour)

    def _put_texts(self) -> None:
        """Put down what was written so far, where the coordinates are still those it was written in."""
        if self._texts is not None:
            self._texts.end()
            self._texts = None

    def line(self, points: Iterable[tuple[float, float]], width: float = 0.2, colour: Colour = BLACK) -> None:
        """Draw straight lines from point to point."""
        self.draw([Contour.polyline(points, closed=False)], width, colour)

    def box(self, x: float, y: float, width: float, height: float, line: float = 0.3) -> None:
        """Draw a rectangle."""
        self._stroke(line, BLACK)
        self._canvas.rect(x, y, width, height)

    def draw(
        self,
        contours: Iterable[Contour],
        width: float = 0.2,
        colour: Colour = BLACK,
        dash: tuple[float, ...] = (),
    ) -> None:
        """Draw contours with their arcs."""
        drawn = list(contours)
        if not drawn:
            return
        self._stroke(width, colour)
        self._canvas.setDash(*((list(dash), 0) if dash else ([], 0)))
        path = self._canvas.beginPath()
        for contour in drawn:
            path.moveTo(*contour.vertices[0][:2])
            for a, b in contour.segments:
                _append(path, a, b)
            if contour.closed:
                path.close()
        self._canvas.drawPath(path)

    def draw_once(
        self, key: Hashable, width: float, height: float, draw: Callable[[], None], at: Spot = (0.0, 0.0)
    ) -> None:
        """Put on the page what `draw` draws within (0, 0) to `width` x `height`; the file holds it once."""
        self._put_texts()
        if key not in self._drawings:
            self._drawings[key] = f"drawing{len(self._drawings)}"
            self._canvas.beginForm(self._drawings[key], 0, 0, width, height)
            draw()
            self._put_texts()
            self._canvas.endForm()
        if at == (0.0, 0.0):
            self._canvas.doForm(self._drawings[key])
            return
        self._canvas.saveState()
        self._canvas.translate(*at)
        self._canvas.doForm(self._drawings[key])
        self._canvas.restoreState()

    def within(self, x: float, y: float, width: float, height: float) -> "Frame":
        """Clip what is drawn in the context to a rectangle."""
        return Frame(self._canvas, (x, y, width, height), self._put_texts)

    def _stroke(self, width: float, colour: Colour) -> None:
        self._canvas.setStrokeColorRGB(*colour)
        self._canvas.setLineWidth(width)
        self._canvas.setDash([], 0)


class Frame:
    """A part of a page with coordinates of its own, clipped."""

    def __init__(
        self, canvas: Any, box: tuple[float, float, float, float], put_texts: Callable[[], None]
    ) -> None:
        self._canvas, self._box, self._put_texts = canvas, box, put_texts

    def __enter__(self) -> "Frame":
        self._put_texts()
        self._canvas.saveState()
        path = self._canvas.beginPath()
        path.rect(*self._box)
        self._canvas.clipPath(path, stroke=0, fill=0)
        return self

    def move(self, x: float, y: float, scale: float = 1.0) -> None:
        """Put the origin at (x, y) and scale what follows."""
        self._put_texts()
        self._canvas.translate(x, y)
        if scale != 1.0:
            self._canvas.scale(scale, scale)

    def __exit__(self, *_: object) -> None:
        self._put_texts()
        self._canvas.restoreState()


class _Texts:
    """Lines of text as one object of the page: font and colour are named where they change, not each time."""

    def __init__(self, canvas: Any) -> None:
        self._canvas = canvas
        self._object: Any = canvas.beginText(0, 0)
        self._font: tuple[str, float] | None = None
        self._colour: Colour | None = None

    def put(self, x: float, y: float, text: str, font: tuple[str, float], colour: Colour) -> None:
        """Write a line."""
        if font != self._font:
            self._font = font
            self._object.setFont(*font)
        if colour != self._colour:
            self._colour = colour
            self._object.setFillColorRGB(*colour)
        self._object.setTextOrigin(round(x, 3), round(y, 3))
        self._object.textLine(text)

    def end(self) -> None:
        """Put the object on the page."""
        self._canvas.drawText(self._object)


@lru_cache(maxsize=10_000)
def shown(text: str) -> str:
    """Put a sign in the place of every character that the font lacks."""
    known = _register_fonts()
    return "".join(c if ord(c) in known else " " if c.isspace() else LACKING for c in text)


@lru_cache(maxsize=10_000)
def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """Give the width of a text in mm."""
    from reportlab.pdfbase.pdfmetrics import stringWidth

    return float(stringWidth(shown(text), BOLD if bold else REGULAR, size))


@lru_cache(maxsize=10_000)
def wrapped(text: str, size: float, width: float) -> tuple[str, ...]:
    """Break a text into lines no wider than `width` mm; a word that is wider is broken too."""
    whole = " ".join(text.split())
    if text_width(whole, size) <= width:
        return (whole,) if whole else ()
    lines: list[str] = []
    for word in (piece for long in whole.split() for piece in _pieces(long, size, width)):
        joined = f"{lines[-1]} {word}" if lines else word
        if lines and text_width(joined, size) <= width:
            lines[-1] = joined
        else:
            lines.append(word)
    return tuple(lines)


def _pieces(word: str, size: float, width: float) -> Iterator[str]:
    """Break a word that is wider than a line."""
    while len(word) > 1 and text_width(word, size) > width:
        fits = next((k for k in range(len(word) - 1, 1, -1) if text_width(word[:k], size) <= width), 1)
        yield word[:fits]
        word = word[fits:]
    yield word


@cache
def _register_fonts() -> dict[int, int]:
    """Make the fonts known that reportlab brings along; give the characters that they have."""
    import reportlab
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    folder = Path(reportlab.__file__).parent / "fonts"
    for name in (REGULAR, BOLD):
        if name not in pdfmetrics.getRegisteredFontNames():
            pdfmetrics.registerFont(TTFont(name, str(folder / f"{name}.ttf")))
    characters: dict[int, int] = pdfmetrics.getFont(REGULAR).face.charToGlyph
    return characters


def _append(path: Any, a: Vertex, b: Vertex) -> None:
    if not a[2]:
        path.lineTo(b[0], b[1])
        return
    arc = Arc.between(a, b)
    pieces = math.ceil(abs(arc.sweep) / WIDEST_CURVE)
    turn = arc.sweep / pieces
    reach = 4 / 3 * math.tan(turn / 4) * arc.radius
    for k in range(pieces):
        angles = arc.start + k * turn, arc.start + (k + 1) * turn
        (x0, y0), (x1, y1) = arc.at(k / pieces), arc.at((k + 1) / pieces)
        c0, s0, c1, s1 = math.cos(angles[0]), math.sin(angles[0]), math.cos(angles[1]), math.sin(angles[1])
        end = (b[0], b[1]) if k == pieces - 1 else (x1, y1)
        path.curveTo(x0 - reach * s0, y0 + reach * c0, x1 + reach * s1, y1 - reach * c1, *end)
