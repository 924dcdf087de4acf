"""Suite ``irregular-bins``: irregular pieces, cut from whole sheets, onto as few sheets as possible."""

from collections.abc import Sequence

import nesting
from benchmarks.irregular import Pieces, cut_up, items, read, solve
from benchmarks.suite import Outcome, Settings, Suite, accepted


def instances(settings: Settings) -> list[Pieces]:
    """Read the published instances, or cut up sheets; pieces keep their turn unless turns are allowed."""
    turns = (0.0, 90.0, 180.0, 270.0) if settings.turns else (0.0,)
    if settings.data is None:
        return [_cut_up(sheets, settings, turns) for sheets in (2, 4)]
    return [
        Pieces(
            found["name"],
            file,
            items(found["items"], turns),
            nesting.Sheet(*found["sheet"]),
            "sheets",
            found["optimal_sheets"],
        )
        for file in ("terashima1", "terashima2")
        for found in read(settings.data, f"bins/{file}.json")["instances"]
    ]


def _cut_up(sheets: int, settings: Settings, turns: tuple[float, ...]) -> Pieces:
    name = f"generated {sheets}"
    pieces = cut_up(name, (1000, 1000), sheets, 8 * sheets, settings, turns)
    return Pieces(name, "generated", pieces, nesting.Sheet(1000, 1000), "sheets", sheets)


def _conclusion(outcomes: Sequence[Outcome]) -> str:
    total, best = sum(o.value for o in outcomes), sum(o.reference or 0 for o in outcomes)
    optimal = sum(o.value == o.reference for o in outcomes)
    return (
        f"total {total:.0f} sheets, optimum {best:.0f}, ratio {total / best:.3f}, "
        f"{optimal} at the optimum, {accepted(outcomes)}"
    )


SUITE = Suite(
    "irregular-bins", "irregular pieces onto as few equal sheets as possible", instances, solve, _conclusion
)
