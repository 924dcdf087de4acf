"""What is painted: style sheets, style attributes, presentation attributes, inheritance."""

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field

from nesting_adapters.svg_document import Element
from nesting_adapters.svg_values import NUMBER, shortened

INHERITED = {
    "fill": "black", "stroke": "none", "stroke-width": "1", "fill-rule": "nonzero", "visibility": "visible",
    "stroke-dasharray": "none", "fill-opacity": "1", "stroke-opacity": "1", "color": "black",
    "marker-start": "none", "marker-mid": "none", "marker-end": "none",
}  # fmt: skip
OWN = {
    "display": "inline", "opacity": "1", "clip-path": "none", "mask": "none", "filter": "none",
    "overflow": "hidden",
}  # fmt: skip
ATTRIBUTE_ONLY = {"transform", "d", "x", "y", "width", "height", "cx", "cy", "r", "rx", "ry"}
"""Geometry that SVG 2 also takes from style sheets; here it counts only as an attribute."""

KNOWN = {**INHERITED, **OWN}
MAX_RULES_A_NAME = 50
MAX_PAINT = 200
MAX_SHEET = 200_000

_COMMENT = re.compile(r"/\*.*?(?:\*/|\Z)", re.DOTALL)
_SELECTOR = re.compile(r"(\*|[A-Za-z][\w-]*)?((?:[.#][\w-]+)*)")
_COLOUR = re.compile(
    r"#(?:[0-9a-f]{3,4}|[0-9a-f]{6}|[0-9a-f]{8})|[a-z]+|(?:rgb|hsl|hwb|lab|lch|oklab|oklch|color)a?\([^()]*\)"
)
_CLEAR = re.compile(r"transparent|#[0-9a-f]{3}0|#[0-9a-f]{6}00|[a-z]+\([^()]*[,/]\s*0*\.?0+%?\s*\)")

Declarations = dict[str, tuple[tuple[int, ...], str]]
Report = Callable[[Element, str], None]


@dataclass
class StyleSheet:
    """The rules of every ``<style>`` of a drawing, found by the name they start with.

    Only element, ``.class`` and ``#id`` selectors and their compounds are understood; anything else
    is reported, for a rule that is not applied would change what is marked.
    """

    report: Report
    rules: dict[str, list[tuple[str, frozenset[str], Declarations]]] = field(default_factory=dict)
    count: int = 0

    def add(self, element: Element) -> None:
        """Take in the rules of a ``<style>`` element."""
        kind = element.attributes.get("type", "text/css").strip()
        if kind not in ("", "text/css"):
            self.report(element, f"a style sheet of type {shortened(kind)} is not read; allowed: text/css")
            return
        if len(element.text) > MAX_SHEET:
            self.report(element, f"a style sheet of more than {MAX_SHEET} characters")
            return
        *rules, rest = _COMMENT.sub(" ", element.text).split("}")
        parts = [rule.partition("{") for rule in rules]
        wrong = [head for head, brace, block in parts if not brace or "{" in block or "@" in head]
        if wrong or rest.strip():
            found = shortened((wrong[0] if wrong else rest).strip())
            self.report(element, f"cannot read {found}; allowed: selector {{ property: value }}")
            return
        for selectors, _, block in parts:
            self._rule(element, selectors, block)

    def _rule(self, element: Element, selectors: str, block: str) -> None:
        self.count += 1
        for selector in selectors.split(","):
            match = _SELECTOR.fullmatch(selector.strip())
            if match is None or not match[0]:
                self.report(
                    element,
                    f"the selector {shortened(selector.strip())} is not understood; "
                    "allowed: element, .class, #id",
                )
                continue
            self._file(element, match, block)

    def _file(self, element: Element, match: re.Match[str], block: str) -> None:
        tag = "" if match[1] in (None, "*") else match[1]
        parts = re.findall(r"[.#][\w-]+", match[2])
        ids = sum(part.startswith("#") for part in parts)
        weight = (1, ids, len(parts) - ids, int(bool(tag)), self.count)
        found = self.rules.setdefault(parts[0] if parts else tag, [])
        if len(found) >= MAX_RULES_A_NAME:  # each of them is tried on every element of that name
            self.report(element, f"more than {MAX_RULES_A_NAME} style rules for {shortened(match[0])}")
            return
        found.append((tag, frozenset(parts), _declarations(block, weight, element, self.report)))

    def own(self, element: Element) -> dict[str, str]:
        """Cascade what is stated for one element, inheritance left out (CSS Cascading 4, section 6)."""
        attributes = element.attributes
        winner: Declarations = {
            key: ((0,), value.strip()) for key, value in attributes.items() if key in KNOWN and value.strip()
        }
        inline = _declarations(attributes.get("style", ""), (2,), element, self.report)
        for declared in (*self._matching(element), inline):
            for key, (weight, value) in declared.items():
                if key not in winner or weight >= winner[key][0]:
                    winner[key] = (weight, value)
        return {key: value for key, (_, value) in winner.items()}

    def _matching(self, element: Element) -> Iterator[Declarations]:
        names = {"." + name for name in element.attributes.get("class", "").split()}
        names |= {"#" + element.attributes["id"]} if "id" in element.attributes else set()
        for key in ("", element.tag, *sorted(names)):
            for tag, parts, declared in self.rules.get(key, ()):
                if tag in ("", element.tag) and parts <= names:
                    yield declared


def _declarations(block: str, weight: tuple[int, ...], element: Element, report: Report) -> Declarations:
    found: Declarations = {}
    for declaration in _COMMENT.sub(" ", block).split(";"):
        key, colon, value = (part.strip() for part in declaration.partition(":"))
        key = key.lower()
        if key in ATTRIBUTE_ONLY:
            report(element, f"{key} is given as a style; allowed: as an attribute")
        before, _, last = value.rpartition("!")
        important = last.strip().lower() == "important"
        value = before.strip() if important else value
        for name in ("marker-start", "marker-mid", "marker-end") if key == "marker" else (key,):
            if colon and value and name in KNOWN:
                rank = (3, *weight) if important else weight
                if name not in found or rank >= found[name][0]:
                    found[name] = (rank, value)
    return found


def computed(own: Mapping[str, str], parent: Mapping[str, str]) -> dict[str, str]:
    """Add what is inherited to what an element states itself."""
    values = {key: parent[key] for key in INHERITED} | OWN
    for key, value in own.items():
        word = value.lower()
        if word == "inherit":
            values[key] = parent[key]
        elif word == "initial":
            values[key] = KNOWN[key]
        elif word not in ("unset", "revert"):
            values[key] = value
    return values


def is_painted(style: Mapping[str, str], prop: str) -> bool:
    """Tell whether ``fill`` or ``stroke`` leaves a mark: every paint does, but none and full transparency.

    Raises
    ------
    ValueError
        For a paint that has no edge to follow (a gradient, a pattern), or that is not understood.

    Examples
    --------
    >>> is_painted(INHERITED, "fill"), is_painted(INHERITED, "stroke")
    (True, False)
    """
    paint = style[prop].lower()
    if paint == "currentcolor":
        paint = style["color"].lower()
    if paint == "none" or opacity(style[f"{prop}-opacity"]) <= 0:
        return False
    if paint.startswith("url("):
        raise ValueError(
            f"{prop} {shortened(paint)}: a gradient or pattern cannot be marked; use a plain colour"
        )
    if len(paint) > MAX_PAINT or not _COLOUR.fullmatch(paint):
        raise ValueError(f"{prop} {shortened(paint)} is not understood; allowed: none or a colour")
    return not _CLEAR.fullmatch(paint) or (paint.startswith(("rgb(", "hsl(")) and paint.count(",") == 2)


def opacity(text: str) -> float:
    """Read an opacity, a number or a percentage.

    >>> opacity("0.5"), opacity("0%")
    (0.5, 0.0)
    """
    match = re.fullmatch(rf"({NUMBER})(%?)", text.strip())
    if match is None:
        raise ValueError(f"opacity {shortened(text)} is not understood; allowed: a number from 0 to 1")
    return float(match[1]) / (100 if match[2] else 1)
