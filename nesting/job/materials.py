"""Which materials are marked and cut as a matter of course, which never, and which need a word first.

The list is common practice, no source. What is not on it may be fine; the data sheet says so.
"""

import re

_KNOWN = frozenset({
    "plywood", "mdf", "acrylic", "cardboard", "paper", "leather", "cork", "wood", "slate", "glass",
    "aluminium", "aluminum", "steel", "ceramic", "porcelain", "stoneware", "felt", "stone",
})  # fmt: skip
_NEEDED = {
    "leather": "tanned", "aluminium": "anodised", "aluminum": "anodized", "steel": "stainless",
    "felt": "wool",
}  # fmt: skip
_WOODS = frozenset({
    "birch", "poplar", "beech", "oak", "ash", "maple", "walnut", "cherry", "alder", "lime", "pine",
    "spruce", "larch", "cedar", "bamboo", "olive",
})  # fmt: skip
_QUALIFIERS = _WOODS | {
    "solid", "cast", "extruded", "clear", "opal", "satin", "matt", "glossy", "natural", "black", "white",
    "grey", "brown", "red", "green", "blue", "yellow", "veg", "vegetable", "tanned", "anodised", "anodized",
    "stainless", "wool", "corrugated", "sheet", "board", "veneer", "thick", "thin",
}  # fmt: skip
_CHLORINATED = re.compile(
    r"\b[uc]?pvc(-?[upc])?\b|\bpvdc\b|vinyl|chlor(ide|inated|oprene)|\bneoprene\b|\bleatherette\b", re.I
)


def is_chlorinated(material: str) -> bool:
    """Tell whether a material's name says that it holds chlorine; the beam makes hydrogen chloride of it.

    >>> is_chlorinated("PVC foam board"), is_chlorinated("vinyl, 0.3 mm"), is_chlorinated("birch plywood")
    (True, True, False)
    """
    return _CHLORINATED.search(material) is not None


def is_known(material: str) -> bool:
    """Tell whether a material is on the list, with or without its species, colour or thickness.

    >>> is_known("birch plywood"), is_known("Olive wood"), is_known("cast acrylic, 3 mm")
    (True, True, True)
    >>> is_known("polycarbonate"), is_known("steel"), is_known("stainless steel"), is_known("coated glass")
    (False, False, True, False)
    """
    text = re.sub(r"\d+([.,]\d+)?\s*mm\b", " ", material.casefold())
    words = re.findall(r"[^\W_]+", text)
    kinds = [word for word in words if word in _KNOWN]
    if any(word not in _KNOWN and word not in _QUALIFIERS for word in words):
        return False
    if not kinds:
        return any(word in _WOODS for word in words)
    return all(_NEEDED.get(kind, kind) in words for kind in kinds)
