"""One roll filled from below: the lowest stretch of the skyline takes the box that fits it best.

After the best-fit placements of the literature (Burke, Kendall and Whitwell, Operations Research 52, 2004;
Leung, Zhang and Sim, European Journal of Operational Research 215, 2011): a box as wide as the stretch
and as high as a wall beside it leaves the skyline simpler than it was.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from nesting.packing.boxes import Spot

Way = tuple[int, int, int, int]
"""``(kind, size, width, height)`` of a box lying in one of its sizes."""


@dataclass(frozen=True)
class Stacked:
    """A filled roll: its spots, their height, and the area left empty below them."""

    spots: tuple[Spot, ...]
    height: int
    waste: int


def stack(ways: Sequence[Way], quantity: Sequence[int], width: int) -> Stacked:
    """Fill a roll.

    Parameters
    ----------
    ways
        How boxes may lie, the preferred ones first; sizes include the gap.
    quantity
        How many there are of each kind.
    width
        Of the roll, the gap included.
    """
    left = list(quantity)
    total, spots, waste = sum(left), [], 0
    xs, tops, widths = [0], [0], [width]
    by_width: dict[int, list[Way]] = {}
    for way in ways:
        by_width.setdefault(way[2], []).append(way)
    while total:
        i = tops.index(min(tops))
        room, top = widths[i], tops[i]
        before = tops[i - 1] - top if i else 0
        after = tops[i + 1] - top if i + 1 < len(tops) else 0
        found, at_left = _best(ways, by_width, left, room, before, after)
        if found is None:
            step = min(value for value in (before, after) if value > 0)
            waste += step * room
            tops[i] += step
            _join(xs, tops, widths)
            continue
        kind, size, w, h = found
        left[kind] -= 1
        total -= 1
        x = xs[i] if at_left else xs[i] + room - w
        spots.append(Spot(kind, size, x, top))
        if w == room:
            tops[i] += h
        elif at_left:
            xs[i : i + 1], tops[i : i + 1], widths[i : i + 1] = [x, x + w], [top + h, top], [w, room - w]
        else:
            xs[i : i + 1], tops[i : i + 1], widths[i : i + 1] = [xs[i], x], [top, top + h], [room - w, w]
        _join(xs, tops, widths)
    return Stacked(tuple(spots), max(tops), waste)


def _best(
    ways: Sequence[Way], by_width: dict[int, list[Way]], left: list[int], room: int, before: int, after: int
) -> tuple[Way | None, bool]:
    """Choose the box and the wall it stands by: the higher one, unless it ends level with the other."""
    higher, lower, at_left = max(before, after), min(before, after), before >= after
    exact = level = None
    for way in by_width.get(room, ()):
        if left[way[0]]:
            if way[3] == higher:
                return way, at_left
            if level is None and way[3] == lower:
                level = way
            if exact is None:
                exact = way
    if level is not None or exact is not None:
        return level or exact, at_left
    first = beside = None
    for way in ways:
        if way[2] < room and left[way[0]]:
            if way[3] == higher:
                return way, at_left
            if first is None:
                first = way
            if beside is None and way[3] == lower and lower > 0:
                beside = way
    return (beside, not at_left) if beside is not None else (first, at_left)


def _join(xs: list[int], tops: list[int], widths: list[int]) -> None:
    """Join neighbouring stretches of the same height."""
    i = 1
    while i < len(xs):
        if tops[i] == tops[i - 1]:
            widths[i - 1] += widths[i]
            del xs[i], tops[i], widths[i]
        else:
            i += 1
