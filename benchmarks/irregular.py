"""Making, solving and drawing instances of irregular pieces and circles."""

import json
import random
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import nullcontext
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import shapely
from shapely.ops import split

import nesting
from benchmarks.suite import Outcome, Settings


@dataclass(frozen=True)
class Pieces:
    """A named instance: what to place on what, and the published figure.

    Attributes
    ----------
    score
        What is reported: ``"fill"`` (percent of the roll used), ``"sheets"`` or ``"placed"``.
    """

    name: str
    group: str
    items: tuple[nesting.Item, ...]
    sheet: nesting.Sheet
    score: str
    reference: float | None = None


def read(data: Path, file: str) -> Any:
    """Read a file of the public data."""
    return json.loads((data / file).read_text(encoding="utf-8"))


def items(
    found: Sequence[dict[str, Any]], turns: tuple[float, ...], lying: float = 0.0
) -> tuple[nesting.Item, ...]:
    """Make items of published polygons, each turned by `lying` degrees first."""
    return tuple(
        nesting.Item(
            f"piece {n}",
            nesting.Footprint.polygon(piece["polygon"]).moved(turn=lying),
            quantity=piece["qty"],
            turns=turns,
        )
        for n, piece in enumerate(found, 1)
    )


def cut_up(
    name: str,
    size: tuple[float, float],
    sheets: int,
    count: int,
    settings: Settings,
    turns: tuple[float, ...],
) -> tuple[nesting.Item, ...]:
    """Cut equal sheets into `count` convex pieces, always the largest in two, with nothing left over."""
    rng = random.Random(f"{name} {settings.seed}")
    parts = [shapely.box(0, 0, *size)] * sheets
    while len(parts) < count:
        largest = parts.pop(max(range(len(parts)), key=lambda k: parts[k].area))
        ring = largest.exterior
        ends = [ring.interpolate(ring.length * (rng.random() / 4 + start)) for start in (0.125, 0.625)]
        parts += shapely.get_parts(split(largest, shapely.LineString(ends))).tolist()
    pieces = [{"polygon": shapely.get_coordinates(part)[:-1].tolist(), "qty": 1} for part in parts]
    return items(pieces, turns)


def solve(instance: Pieces, settings: Settings) -> Outcome:
    """Pack an instance, and judge the layout."""
    return judged(instance, settings, packed(instance, settings))


def packed(instance: Pieces, settings: Settings) -> nesting.Layout:
    """Pack an instance."""
    with ProcessPoolExecutor(settings.processes - 1) if settings.processes > 1 else nullcontext() as others:
        return nesting.pack(
            instance.items, [instance.sheet], seconds=settings.seconds, seed=settings.seed, executor=others
        )


def judged(instance: Pieces, settings: Settings, layout: nesting.Layout) -> Outcome:
    """Check a layout independently, and draw it if a folder is given."""
    if settings.out is not None:
        settings.out.mkdir(parents=True, exist_ok=True)
        (settings.out / f"{instance.name}.svg").write_text(drawing(layout), encoding="utf-8")
    value = {"fill": 100 * layout.fill, "sheets": len(layout.sheets), "placed": len(layout.placements)}
    whole = instance.score == "placed" or not layout.unplaced
    bound = layout.bound
    if instance.score == "fill" and layout.bound:
        bound = min(100 * layout.fill * layout.used_length / layout.bound, 100.0)
    return Outcome(
        instance.name, instance.group, value[instance.score], bound, instance.reference, layout.fill,
        layout.proven, layout.seconds, nesting.check_layout(layout).ok and whole,
    )  # fmt: skip


def drawing(layout: nesting.Layout) -> str:
    """Draw the sheets side by side as SVG; lengths are millimetres, y points up."""
    parts, left = [], 0.0
    high = max((sheet.height or 0.0 for sheet in layout.sheets), default=1.0)
    for k, sheet in enumerate(layout.sheets):
        outlines = [("#ffffff", sheet.region), *(("#bbbbbb", region) for region in sheet.keep_outs)]
        outlines += [
            (f"hsl({hash_hue(p.item)} 45% 75%)", r)
            for p, r in zip(layout.placements, layout.regions, strict=True)
            if p.sheet == k
        ]
        for colour, region in outlines:
            path = " ".join(
                "M" + " ".join(f"{left + x:.3f},{high - y:.3f}" for x, y in contour.flattened()) + "Z"
                for contour in region.contours
            )
            parts.append(f'<path d="{path}" fill="{colour}" fill-rule="evenodd"/>')
        left += 1.05 * sheet.width
    size = max(left, high)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{left / size * 1000:.0f}" '
        f'height="{high / size * 1000:.0f}" viewBox="0 0 {left:g} {high:g}" '
        f'stroke="#333333" stroke-width="{size / 1000:g}">' + "".join(parts) + "</svg>"
    )


def hash_hue(name: str) -> int:
    """Give each name a hue of its own, the same in every run."""
    return sum(ord(letter) * 37 for letter in name) % 360
