"""How long the first layout of 200 mixed pieces of 12 kinds takes.

python -m benchmarks first-layout [--seed N]
"""

import random
import time
from collections.abc import Iterator
from pathlib import Path

import nesting
from benchmarks.blanks import blanks

PIECES = 200

_ORDERS = 5


def run(data: Path | None, seconds: float, seed: int) -> Iterator[str]:  # noqa: ARG001
    """Draw orders of 200 pieces, the pieces shared out among the kinds; give a line for each."""
    yield "| order | sheets | seconds | of the processor |"
    yield "|---|---|---|---|"
    for number in range(seed, seed + _ORDERS):
        items = mixed_pieces(number)
        wall, processor = time.perf_counter(), time.process_time()
        layout = first_layout(items)
        wall, processor = time.perf_counter() - wall, time.process_time() - processor
        yield f"| {number} | {len(layout.sheets)} | {wall:.2f} | {processor:.2f} |"


def mixed_pieces(seed: int) -> list[nesting.Item]:
    """Draw 200 pieces, one or more of each of the twelve kinds."""
    rng = random.Random(f"first layout {seed}")
    kinds = blanks()
    drawn = [*kinds, *rng.choices(list(kinds), k=PIECES - len(kinds))]
    return [
        nesting.Item(name, footprint, drawn.count(name), (0, 90, 180, 270), 4.0)
        for name, footprint in kinds.items()
    ]


def first_layout(items: list[nesting.Item]) -> nesting.Layout:
    """Pack until the first layout is there."""
    found: list[nesting.Layout] = []
    return nesting.pack(
        items,
        nesting.Sheet(600, 400, margin=8),
        seconds=60.0,
        progress=found.append,
        cancelled=lambda: bool(found),
    )
