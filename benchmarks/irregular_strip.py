"""Suite ``irregular-strip``: irregular pieces onto the shortest piece of a roll."""

from collections.abc import Sequence

import nesting
from benchmarks.irregular import Pieces, cut_up, items, read, solve
from benchmarks.suite import Outcome, Settings, Suite, accepted

EIGHT = ("albano", "blaz1_shapes2", "dagli", "fu", "jakobs1", "shapes0", "shirts", "trousers")
"""The instances of which papers print the utilisation."""

OPTIMAL_LENGTHS = {
    "dighe1": 100, "three": 6, "threep2": 9 + 1 / 3, "threep2w9": 8, "threep3": 13 + 8 / 15, "threep3w9": 11,
}  # fmt: skip
"""Proven optima: dighe1 is a square of 100 cut up; the others from memory of a branch and bound in print
(Alvarez-Valdes, Martinez and Tamarit 2013), to the two decimals it gives."""


def instances(settings: Settings) -> list[Pieces]:
    """Read the published instances, or cut rectangles into convex pieces with nothing left over."""
    if settings.data is None:
        return [_cut_up(count, settings) for count in (10, 20, 40)]
    names = sorted(path.stem for path in (settings.data / "strip").glob("*.json"))
    return [_published(name, read(settings.data, f"strip/{name}.json")) for name in names]


def _published(name: str, found: dict) -> Pieces:  # type: ignore[type-arg]
    """Lay the strip upright: its published length runs along x, that of a roll along y."""
    group = "printed" if name in EIGHT else "others"
    best = found.get("published", {}).get("best_utilisation_percent")
    if name in OPTIMAL_LENGTHS:
        best = 100 * found["total_area"] / (found["strip_width"] * OPTIMAL_LENGTHS[name])
    placed = items(found["items"], tuple(found["allowed_rotations_deg"]), lying=90)
    return Pieces(name, group, placed, nesting.Sheet(found["strip_width"], None), "fill", best)


def _cut_up(count: int, settings: Settings) -> Pieces:
    name = f"generated {count}"
    pieces = cut_up(name, (100, 150), 1, count, settings, (0, 180))
    return Pieces(name, "generated", pieces, nesting.Sheet(100, None), "fill", 100)


def _conclusion(outcomes: Sequence[Outcome]) -> str:
    printed = [o.value for o in outcomes if o.name in EIGHT] or [o.value for o in outcomes]
    mean = sum(printed) / len(printed)
    return f"mean utilisation {mean:.2f} % of {len(printed)} instances, {accepted(outcomes)}"


SUITE = Suite(
    "irregular-strip", "irregular pieces onto the shortest piece of a roll", instances, solve, _conclusion
)
