"""The artworks of a job, each made from its table of the document."""

import unicodedata
from collections.abc import Iterable, Mapping

from nesting.geometry.font import Font
from nesting.job.artwork_files import ArtworkFiles
from nesting.job.document import ArtworkDocument, TextDocument
from nesting.job.draft import Draft
from nesting.job.findings import key_path, nearest
from nesting.job.job import Around, Artwork, Content, Dots, Hatch, Lettering
from nesting.job.orders import Entry
from nesting.job.shapes import Shapes

Shown = tuple[Content, tuple[Dots, ...]]
"""What an artwork shows, and what of its drawing is dots."""


class Artworks:
    """Makes the artworks of a document for the orders that name them.

    Parameters
    ----------
    entries
        The orders as written; their texts say which characters the fonts are asked for.
    """

    def __init__(self, draft: Draft, shapes: Shapes, entries: Iterable[Entry]) -> None:
        self._draft, self._shapes, self._mm = draft, shapes, shapes.mm
        self._findings, self._files = shapes.folder.findings, ArtworkFiles(shapes)
        self._written = draft.items("artworks", ArtworkDocument)
        self._wanted: dict[str, list[Entry]] = {}
        for entry in entries:
            for name in entry.artworks(draft.names("artworks").values()):
                self._wanted.setdefault(name, []).append(entry)

    def all(self) -> dict[str, Artwork | None]:
        """Make the artworks, by name; None for one that is there but wrong."""
        made: dict[str, Artwork | None] = dict.fromkeys(self._draft.names("artworks").values())
        fonts = self._fonts()
        for k, written in self._written.items():
            made[written.name] = self._artwork(written, key_path("artworks", k), fonts)
        return made

    def _artwork(self, written: ArtworkDocument, where: str, fonts: Mapping[str, Font]) -> Artwork | None:
        self._check(written, where)
        shown = self._content(written, where, fonts)
        if shown is None:
            return None
        sides = written.margins
        around, hatch = written.around, written.hatch
        return Artwork(
            written.name,
            shown[0],
            written.fit,
            None if written.width is None else self._mm(written.width),
            None if written.height is None else self._mm(written.height),
            self._mm(written.inset),
            written.turn,
            written.align_x,
            written.align_y,
            (self._mm(sides.left), self._mm(sides.below), self._mm(sides.right), self._mm(sides.above)),
            (self._mm(written.offset[0]), self._mm(written.offset[1])),
            written.mirrored,
            None if around is None else Around(around.count, self._mm(around.radius)),
            Hatch(hatch.pattern, hatch.angle, None if hatch.interval is None else self._mm(hatch.interval)),
            written.wrap,
            shown[1],
        )

    def _check(self, written: ArtworkDocument, where: str) -> None:
        """Note keys that do not go together."""
        sized = written.width is not None or written.height is not None
        if (sized and written.fit not in ("size", "shrink")) or (written.fit == "size" and not sized):
            message = (
                'width and height go with fit = "size" or "shrink", and one of them is needed for "size"'
            )
            self._findings.add(f"{where}.fit", f"found {written.fit!r}; {message}")
        if written.fit == "fill" and (written.text or written.wrap):
            found = "a text" if written.text else "wrap"
            message = f"found 'fill' with {found}; allowed: with flat drawings and pictures, to be cut off"
            self._findings.add(f"{where}.fit", message)
        if written.text and "strokes" in written.model_fields_set:
            self._findings.add(f"{where}.strokes", "found with a text; allowed: with a drawing")
        if written.text and written.fonts:
            message = "found with a text, which has its own font; allowed: with a drawing"
            self._findings.add(f"{where}.fonts", message)
        if (written.file is None) == (written.text is None):
            found = "neither" if written.file is None else "both"
            self._findings.add(where, f"found {found} of file and text; needed: one of them")
        stated = written.model_fields_set
        if written.around and (written.text or (written.raster.how == "dots" and "raster" in stated)):
            self._findings.add(f"{where}.around", "found copies of a text or of dots; allowed: of a drawing")
        if written.text and not (written.text.column is None) ^ (written.text.words is None):
            self._findings.add(f"{where}.text", "needed: either column or words, and not both")

    def _content(self, written: ArtworkDocument, where: str, fonts: Mapping[str, Font]) -> Shown | None:
        if written.text is not None:
            lettering = self._lettering(written, written.text, where, fonts)
            return None if lettering is None else (lettering, ())
        return None if written.file is None else self._files.shown(written, written.file, where)

    def _lettering(
        self, written: ArtworkDocument, text: TextDocument, where: str, fonts: Mapping[str, Font]
    ) -> Lettering | None:
        font = fonts.get(text.font)
        if font is None:
            return None
        lettering = Lettering(
            font,
            text.words or "",
            (text.column or "").casefold(),
            self._mm(text.size),
            self._mm(text.smallest),
            text.lines,
            text.align,
            text.spacing,
        )
        if text.words and (missing := font.missing(plain(text.words))):
            self._findings.add(f"{where}.text.words", _not_there(missing, font))
        wanted = self._wanted.get(written.name, [])
        if wanted and not lettering.words and not any(entry.text(lettering.column) for entry in wanted):
            known = [key for entry in wanted for key in entry.written.texts]
            message = f"no order with this artwork has a text {lettering.column!r}"
            self._findings.add(f"{where}.text.column", message + nearest(lettering.column, known))
            return None
        for entry in wanted:
            self._check_text(lettering, entry, written.name)
        return lettering

    def _check_text(self, lettering: Lettering, entry: Entry, name: str) -> None:
        """Note an order whose text is missing or cannot be written."""
        if lettering.words:
            return
        cell, place = entry.text(lettering.column), entry.where(lettering.column)
        if not cell.strip():
            message = f"found no text; needed for the artwork {name!r}, which writes it"
            self._findings.add(place, message, entry.file)
        elif missing := lettering.font.missing(plain(cell)):
            self._findings.add(place, f"found {cell!r}; {_not_there(missing, lettering.font)}", entry.file)

    def _fonts(self) -> dict[str, Font]:
        """Read each font once, with the characters of every text that is set in it."""
        characters: dict[str, set[str]] = {}
        places: dict[str, str] = {}
        for k, written in self._written.items():
            text = written.text
            if text is None:
                continue
            wanted = characters.setdefault(text.font, {" "})
            places.setdefault(text.font, key_path("artworks", k, "text", "font"))
            wanted.update(plain(text.words or ""))
            for entry in self._wanted.get(written.name, ()):
                wanted.update(plain(entry.text((text.column or "").casefold())))
        read = {f: self._shapes.folder.font(f, places[f], "".join(sorted(c))) for f, c in characters.items()}
        return {name: font for name, font in read.items() if font is not None}


def plain(text: str) -> str:
    """Write a text as it is set: in one line, with composed characters (Unicode's form NFC)."""
    return " ".join(unicodedata.normalize("NFC", text).split())


def _not_there(missing: str, font: Font) -> str:
    names = ", ".join(f"{c!r} (U+{ord(c):04X})" for c in missing[:8])
    return f"the font {font.name!r} has no {names}"
