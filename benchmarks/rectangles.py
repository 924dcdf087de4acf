"""Making and solving instances of rectangles, for the suites of bins, strips and equal rectangles."""

import json
from pathlib import Path
from typing import Any

import nesting
from benchmarks.suite import Instance, Outcome, Settings


def read(data: Path, file: str) -> list[dict[str, Any]]:
    """Read the instances of a file of the public data."""
    return list(json.loads((data / "rect" / file).read_text(encoding="utf-8"))["instances"])


def solve(
    instance: Instance, settings: Settings, *, turns: tuple[float, ...], quantity: int | None
) -> Outcome:
    """Pack an instance, and check the layout independently."""
    items = [
        nesting.Item(f"{n}", nesting.Footprint.rectangle(*size), quantity=quantity or 1, turns=turns)
        for n, size in enumerate(instance.sizes)
    ]
    width, height = instance.stock
    sheet = nesting.Sheet(width, height, quantity=1 if quantity else None)
    layout = nesting.pack(items, [sheet], seconds=settings.seconds, seed=settings.seed)
    value = len(layout.placements) if quantity else layout.value
    return Outcome(
        instance.name, instance.group, value, layout.bound, instance.reference, layout.fill, layout.proven,
        layout.seconds, nesting.check_layout(layout).ok and (bool(quantity) or not layout.unplaced),
    )  # fmt: skip
