"""What is painted: style sheets, style attributes, presentation attributes, inheritance."""

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field

from nesting_adapters.svg_document import Element
from nesting_adapters.svg_selectors import Selector, selector
from nesting_adapters.svg_values import NUMBER, length, shortened

INHERITED = {
    "fill": "black", "stroke": "none", "stroke-width": "1", "fill-rule": "nonzero", "visibility": "visible",
    "stroke-dasharray": "none", "fill-opacity": "1", "stroke-opacity": "1", "color": "black",
    "marker-start": "none", "marker-mid": "none", "marker-end": "none", "stroke-linecap": "butt",
    "stroke-linejoin": "miter", "stroke-miterlimit": "4", "stroke-dashoffset": "0", "clip-rule": "nonzero",
    "font-family": "", "font-size": "16", "font-weight": "normal", "font-style": "normal", "font": "none",
    "font-variant": "normal", "font-stretch": "normal", "font-size-adjust": "none", "font-kerning": "auto",
    "text-anchor": "start", "letter-spacing": "normal", "word-spacing": "normal", "direction": "ltr",
    "writing-mode": "horizontal-tb", "text-transform": "none", "white-space": "normal",
    "text-decoration": "none", "text-decoration-line": "none", "shape-inside": "auto",
}  # fmt: skip
OWN = {
    "display": "inline", "opacity": "1", "clip-path": "none", "mask": "none", "filter": "none",
    "overflow": "hidden", "vector-effect": "none", "baseline-shift": "baseline", "dominant-baseline": "auto",
    "alignment-baseline": "auto", "inline-size": "auto",
}  # fmt: skip
ATTRIBUTE_ONLY = {"transform", "d", "x", "y", "width", "height", "cx", "cy", "r", "rx", "ry"}
"""Geometry that SVG 2 also takes from style sheets; here it counts only as an attribute."""

KNOWN = {**INHERITED, **OWN}
MAX_RULES_A_NAME = 50
MAX_STEPS = 40
MAX_PAINT = 200
MAX_SHEET = 200_000

_COMMENT = re.compile(r"/\*.*?(?:\*/|\Z)", re.DOTALL)
_SHARE = re.compile(rf"({NUMBER})(%?)")
_RELATIVE = re.compile(rf"({NUMBER})(%|em)")
_COLOUR = re.compile(
    r"#(?:[0-9a-f]{3,4}|[0-9a-f]{6}|[0-9a-f]{8})|[a-z]+|(?:rgb|hsl|hwb|lab|lch|oklab|oklch|color)a?\([^()]*\)"
)
_CLEAR = re.compile(r"transparent|#[0-9a-f]{3}0|#[0-9a-f]{6}00|[a-z]+\([^()]*[,/]\s*0*\.?0+%?\s*\)")

Declarations = dict[str, tuple[tuple[int, ...], str]]
Report = Callable[[Element, str], None]


@dataclass
class StyleSheet:
    """The rules of every ``<style>`` of a drawing, found by a name that they end with.

    Only element, ``.class`` and ``#id`` selectors, their compounds and those of elements inside others
    are understood; anything else is reported, for a rule that is not applied would change what is marked.
    `parents` leads from elements to those around them.
    """

    report: Report
    parents: Mapping[Element, Element]
    rules: dict[str, list[tuple[Selector, Declarations]]] = field(default_factory=dict)
    count: int = 0
    steps: int = 0
    memo: dict[tuple[Selector, int, Element], bool] = field(default_factory=dict)

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
            self.count += 1
            for text in selectors.split(","):
                self._rule(element, text.strip(), block)

    def _rule(self, element: Element, text: str, block: str) -> None:
        read = selector(text)
        if read is None:
            allowed = "element, .class, #id, and these inside each other"
            self.report(element, f"the selector {shortened(text)} is not understood; allowed: {allowed}")
            return
        found = self.rules.setdefault(read.compounds[-1].key, [])
        self.steps += len(read.compounds) - 1
        # each rule of a name is tried on every element of that name
        if len(found) >= MAX_RULES_A_NAME or self.steps > MAX_STEPS:
            self.report(element, f"too many style rules such as {shortened(text)}")
            return
        found.append((read, _declarations(block, (1, *read.weight, self.count), element, self.report)))

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
        for key in ("", element.tag, *sorted(element.names)):
            for each, declared in self.rules.get(key, ()):
                if each.fits(element, self.parents, self.memo):
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
    if "font-size" in own:
        values["font-size"] = _font_size(values["font-size"], parent["font-size"])
    return values


def _font_size(written: str, around: str) -> str:
    """Resolve a share of the size around, which is all a size depends on (CSS Fonts 4, section 2.5)."""
    match = _RELATIVE.fullmatch(written.strip().lower())
    if match is None:
        return written
    share = float(match[1]) / (100 if match[2] == "%" else 1)
    return repr(share * length(around, None))


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
    match = _SHARE.fullmatch(text.strip())
    if match is None:
        raise ValueError(f"opacity {shortened(text)} is not understood; allowed: a number from 0 to 1")
    return float(match[1]) / (100 if match[2] else 1)
