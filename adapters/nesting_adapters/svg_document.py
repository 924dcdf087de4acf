"""An SVG file as a tree of elements that know their line, read without trusting it."""

from dataclasses import dataclass, field
from functools import cached_property
from io import BytesIO
from pathlib import Path
from xml.parsers.expat import XML_PARAM_ENTITY_PARSING_NEVER
from xml.sax import SAXException, SAXParseException
from xml.sax.handler import ContentHandler, feature_namespaces
from xml.sax.xmlreader import AttributesNSImpl, Locator

from defusedxml.common import DefusedXmlException
from defusedxml.expatreader import DefusedExpatParser

from nesting.errors import InputError

MAX_BYTES = 20_000_000
MAX_ELEMENTS = 20_000
MAX_DEPTH = 100
SVG = "http://www.w3.org/2000/svg"
XLINK = "http://www.w3.org/1999/xlink"
XML = "http://www.w3.org/XML/1998/namespace"
WRITTEN = ("text", "tspan", "a")
"""Elements whose text is kept, as children named ``#text`` between the others."""


@dataclass(eq=False)
class Element:
    """An element of the SVG namespace; attributes by local name, those of other namespaces left out.

    ``xml:space`` is among them if it says ``preserve``.
    """

    tag: str
    attributes: dict[str, str]
    line: int
    children: list["Element"] = field(default_factory=list)
    text: str = ""

    @cached_property
    def size(self) -> int:
        """So many characters its attributes have, a picture apart, which is read once."""
        counted = (v for k, v in self.attributes.items() if k != "href" or self.tag != "image")
        return sum(map(len, counted))

    @cached_property
    def letters(self) -> int:
        """So many characters are written in it."""
        return len(self.text) + sum(child.letters for child in self.children)

    @cached_property
    def names(self) -> frozenset[str]:
        """Its classes, as ``.class``, and its id, as ``#id``."""
        classes = {"." + name for name in self.attributes.get("class", "").split()}
        return frozenset(classes | ({"#" + self.attributes["id"]} if "id" in self.attributes else set()))

    @property
    def where(self) -> str:
        """Line and name, as an error tells them."""
        name = self.attributes.get("id", "")
        return f"line {self.line}, <{self.tag}{f' id={name[:40]!r}' if name else ''}>"


class UnsafeError(Exception):
    """The document is refused at a line."""

    def __init__(self, message: str, line: int) -> None:
        super().__init__(message)
        self.line = line


def read_document(path: Path) -> Element:
    """Read the root element.

    Raises
    ------
    InputError
        If the file is not a plain file, too large, compressed, no XML, no SVG, or not safe.
    """
    try:
        return _parse(_content(path))
    except UnsafeError as error:
        where = f"line {error.line}" if error.line else ""
        raise InputError.single(str(error), file=str(path), where=where) from error


def _content(path: Path) -> bytes:
    if path.is_symlink() or not path.is_file():
        raise UnsafeError("not a plain file; allowed: an SVG file, not a link or a folder", 0)
    try:
        with path.open("rb") as stream:
            content = stream.read(MAX_BYTES + 1)
    except OSError as error:
        raise UnsafeError(f"cannot be read: {error.strerror}", 0) from error
    if len(content) > MAX_BYTES:
        raise UnsafeError(f"larger than {MAX_BYTES / 1e6:g} MB", 0)
    if content.startswith(b"\x1f\x8b"):
        raise UnsafeError("compressed (svgz); save it as plain SVG", 0)
    if not content.strip():
        raise UnsafeError("empty; allowed: an SVG document", 0)
    return content


def _parse(content: bytes) -> Element:
    # all at once, for a long attribute that comes in pieces is read again with every piece
    builder, parser = _Builder(), _Parser(namespaceHandling=1, bufsize=MAX_BYTES)
    parser.setFeature(feature_namespaces, 1)
    parser.setContentHandler(builder)
    try:
        parser.parse(BytesIO(content))
    except DefusedXmlException as error:
        raise UnsafeError("declares entities; save it without them", builder.line) from error
    except SAXParseException as error:
        raise UnsafeError(f"not XML: {error.getMessage()}", error.getLineNumber() or 0) from error
    except (SAXException, LookupError, ValueError) as error:
        raise UnsafeError(f"not XML: {error}", builder.line) from error
    if builder.root is None:
        raise UnsafeError("holds no SVG element", 0)
    return builder.root


class _Parser(DefusedExpatParser):
    """Lets a document name its DTD, as older drawings do, but never looks into it."""

    def reset(self) -> None:
        super().reset()
        self._parser.SetParamEntityParsing(XML_PARAM_ENTITY_PARSING_NEVER)  # type: ignore[attr-defined]


class _Builder(ContentHandler):
    """Builds the tree; names and arguments of its methods are the parser's."""

    def __init__(self) -> None:
        super().__init__()
        self.root: Element | None = None
        self._open: list[Element] = []
        self._foreign = 0
        self._count = 0
        self._locator: Locator | None = None

    @property
    def line(self) -> int:
        return (self._locator.getLineNumber() or 0) if self._locator else 0

    def setDocumentLocator(self, locator: Locator) -> None:  # noqa: N802
        self._locator = locator

    def startElementNS(  # noqa: N802
        self,
        name: tuple[str | None, str],
        qname: str | None,  # noqa: ARG002
        attrs: AttributesNSImpl,
    ) -> None:
        self._count += 1
        if self._count > MAX_ELEMENTS:
            raise UnsafeError(f"more than {MAX_ELEMENTS} elements", self.line)
        if len(self._open) + self._foreign >= MAX_DEPTH:
            raise UnsafeError(f"nested deeper than {MAX_DEPTH} elements", self.line)
        if self._foreign or (name[0] != SVG and self._open):
            self._foreign += 1
            return
        self._start(name, attrs)

    def _start(self, name: tuple[str | None, str], attrs: AttributesNSImpl) -> None:
        if self.root is None and name != (SVG, "svg"):
            raise UnsafeError(f'the root is <{name[1][:40]}>; allowed: <svg xmlns="{SVG}">', self.line)
        linked = {key: value for (space, key), value in attrs.items() if space == XLINK and key == "href"}
        own = {key: value for (space, key), value in attrs.items() if space is None}
        if attrs.get((XML, "space")) == "preserve":
            own["xml:space"] = "preserve"
        element = Element(name[1], {**linked, **own}, self.line)
        if self._open:
            self._open[-1].children.append(element)
        else:
            self.root = element
        self._open.append(element)

    def endElementNS(self, name: tuple[str | None, str], qname: str | None) -> None:  # noqa: N802, ARG002
        if self._foreign:
            self._foreign -= 1
        else:
            self._open.pop()

    def characters(self, content: str) -> None:
        if not self._open or self._foreign:
            return
        inner = self._open[-1]
        if inner.tag == "style":
            inner.text += content
        elif inner.tag in WRITTEN:
            if not inner.children or inner.children[-1].tag != "#text":
                inner.children.append(Element("#text", {}, self.line))
            inner.children[-1].text += content

    def processingInstruction(self, target: str, data: str) -> None:  # noqa: N802, ARG002
        if target == "xml-stylesheet":
            raise UnsafeError("refers to another style sheet; put the styles into the drawing", self.line)

    def skippedEntity(self, name: str) -> None:  # noqa: N802
        raise UnsafeError(f"uses the undeclared entity &{name[:40]};", self.line)
