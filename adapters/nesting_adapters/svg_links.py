"""Elements of a drawing by their id; nothing outside the file is ever looked up."""

import re

from nesting_adapters.svg_document import Element
from nesting_adapters.svg_values import shortened

_URL = re.compile(r"url\(\s*([\"']?)(#[^\"')]*)\1\s*\)")


class Links:
    """Every element of a document, in its order, its parent and what refers to it by id."""

    def __init__(self, root: Element) -> None:
        self.elements: list[Element] = []
        self.parents: dict[Element, Element] = {}
        self._ids: dict[str, Element] = {}
        waiting = [root]
        while waiting:
            element = waiting.pop()
            self.elements.append(element)
            self._ids.setdefault(element.attributes.get("id", ""), element)
            self.parents |= dict.fromkeys(element.children, element)
            waiting.extend(reversed(element.children))

    def target(self, who: str, link: str) -> Element:
        """Find what a link such as ``#id`` refers to.

        Raises
        ------
        ValueError
            If it leads out of the file, or to nothing.
        """
        link = link.strip()
        if not link.startswith("#"):
            raise ValueError(f"{who} refers to {shortened(link)}; allowed: #id of an element of this file")
        target = self._ids.get(link[1:])
        if target is None:
            raise ValueError(f"{who} refers to {shortened(link)}, which is not in this file")
        return target

    def clip_path(self, written: str) -> Element:
        """Find the clip path that a value such as ``url(#id)`` refers to.

        Raises
        ------
        ValueError
            If it is anything else.
        """
        match = _URL.fullmatch(written)
        if match is None:
            raise ValueError(f"clip-path {shortened(written)} is not read; allowed: none or url(#id)")
        target = self.target("clip-path", match[2])
        if target.tag != "clipPath":
            raise ValueError(f"clip-path {shortened(written)} refers to a <{target.tag[:40]}>")
        return target

    def lineage(self, element: Element) -> list[Element]:
        """Give the elements around one, from the root down to it."""
        found = [element]
        while found[-1] in self.parents:
            found.append(self.parents[found[-1]])
        return found[::-1]
