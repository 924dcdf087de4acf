"""Selectors of style sheets (W3C Selectors 4): names, classes, ids, and elements inside others."""

import re
from collections.abc import Mapping
from dataclasses import dataclass

from nesting_adapters.svg_document import Element

MAX_STEPS = 5
"""So many elements inside each other may a selector name."""

_COMPOUND = re.compile(r"(\*|[A-Za-z][\w-]*)?((?:[.#][\w-]+)*)")
_NAME = re.compile(r"[.#][\w-]+")


@dataclass(frozen=True)
class Compound:
    """What one element must be: its tag, unless that is empty, and its classes and id."""

    tag: str
    names: frozenset[str]

    @property
    def key(self) -> str:
        """One of its names, by which it can be looked up."""
        return min(self.names, default=self.tag)

    def fits(self, element: Element) -> bool:
        """Tell whether an element is such."""
        return self.tag in ("", element.tag) and self.names <= element.names


@dataclass(frozen=True)
class Selector:
    """Compounds from the outside in; ``direct`` tells of each whether its parent is the one before it."""

    compounds: tuple[Compound, ...]
    direct: tuple[bool, ...]

    @property
    def weight(self) -> tuple[int, int, int]:
        """How specific it is: ids, classes, tags (Selectors 4, section 15)."""
        names = [name for compound in self.compounds for name in compound.names]
        ids = sum(name.startswith("#") for name in names)
        return ids, len(names) - ids, sum(bool(compound.tag) for compound in self.compounds)

    def fits(
        self,
        element: Element,
        parents: Mapping[Element, Element],
        memo: dict[tuple["Selector", int, Element], bool],
        step: int = -1,
    ) -> bool:
        """Tell whether it selects an element; `memo` keeps what was found of the elements around it."""
        step %= len(self.compounds)
        if not self.compounds[step].fits(element):
            return False
        if step == 0:
            return True
        key = (self, step, element)
        if key not in memo:
            around = parents.get(element)
            memo[key] = False
            while around is not None and not memo[key]:
                memo[key] = self.fits(around, parents, memo, step - 1)
                around = None if self.direct[step] else parents.get(around)
        return memo[key]


def selector(text: str) -> Selector | None:
    """Read a selector; None if it is not understood.

    >>> selector("g.a > rect").weight
    (0, 1, 2)
    >>> selector("a:hover") is None
    True
    """
    compounds: list[Compound] = []
    direct: list[bool] = []
    after_child = False
    for word in text.replace(">", " > ").split():
        if word == ">":
            if after_child or not compounds:
                return None
            after_child = True
            continue
        match = _COMPOUND.fullmatch(word)
        if match is None or not match[0] or len(compounds) == MAX_STEPS:
            return None
        compounds.append(
            Compound("" if match[1] in (None, "*") else match[1], frozenset(_NAME.findall(match[2])))
        )
        direct.append(after_child)
        after_child = False
    return Selector(tuple(compounds), tuple(direct)) if compounds and not after_child else None
