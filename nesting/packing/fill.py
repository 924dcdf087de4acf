"""Filling one bed with boxes: the free part is kept as its largest empty rectangles."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from nesting.packing.boxes import Bed, Box, Boxes, Spot

RULES = ("low", "left", "short side", "area", "long side")
"""How a place is chosen: lowest, leftmost, or the free rectangle that the box fits best."""


@dataclass
class Floor:
    """A bed being filled.

    For every gap there is a list of the largest rectangles where a box of that gap may still lie:
    a box placed before is in the way with the larger of the two gaps round it.
    """

    free: dict[int, list[Box]]

    @classmethod
    def of(cls, bed: Bed, height: int, gaps: Iterable[int]) -> "Floor":
        """Start with nothing but the keep-outs in the way."""
        free = [(0, 0, bed.width, height)]
        for box in bed.blocked:
            free = cut(free, box)
        return cls(dict.fromkeys(gaps, free))

    def place(self, width: int, height: int, gap: int, x: int, y: int) -> None:
        """Put a box in the way of others."""
        for other, free in self.free.items():
            g = max(gap, other)
            self.free[other] = cut(free, (x - g, y - g, x + width + g, y + height + g))


def cut(free: list[Box], box: Box) -> list[Box]:
    """Take a box out of a set of largest empty rectangles."""
    bx0, by0, bx1, by1 = box
    kept: list[Box] = []
    pieces: list[Box] = []
    for rectangle in free:
        x0, y0, x1, y1 = rectangle
        if bx0 >= x1 or bx1 <= x0 or by0 >= y1 or by1 <= y0:
            kept.append(rectangle)
            continue
        if x0 < bx0:
            pieces.append((x0, y0, bx0, y1))
        if bx1 < x1:
            pieces.append((bx1, y0, x1, y1))
        if y0 < by0:
            pieces.append((x0, y0, x1, by0))
        if by1 < y1:
            pieces.append((x0, by1, x1, y1))
    distinct = list(dict.fromkeys(pieces))
    return kept + [piece for piece in distinct if not _inside_another(piece, kept, distinct)]


def _inside_another(piece: Box, kept: list[Box], pieces: list[Box]) -> bool:
    x0, y0, x1, y1 = piece
    for others in (kept, pieces):
        for other in others:
            a0, b0, a1, b1 = other
            if a0 <= x0 and b0 <= y0 and a1 >= x1 and b1 >= y1 and other is not piece:
                return True
    return False


def fill(
    boxes: Boxes, bed: int, order: Sequence[int], left: dict[int, int], rule: str, height: int | None = None
) -> tuple[Spot, ...]:
    """Place what fits, kind after kind in the order given, taking it off `left`."""
    stock = boxes.beds[bed]
    floor = Floor.of(stock, stock.height or height or 0, {boxes.kinds[k].gap for k in order})
    spots: list[Spot] = []
    for k in order:
        kind = boxes.kinds[k]
        while left.get(k, 0) > 0:
            found = _place(floor.free[kind.gap], kind.sizes, rule)
            if found is None:
                break
            size, x, y = found
            floor.place(*kind.sizes[size], kind.gap, x, y)
            spots.append(Spot(k, size, x, y))
            left[k] -= 1
    return tuple(spots)


def _place(free: list[Box], sizes: tuple[tuple[int, int], ...], rule: str) -> tuple[int, int, int] | None:
    best: tuple[int, int] | None = None
    found = None
    for size, (w, h) in enumerate(sizes):
        for x0, y0, x1, y1 in free:
            dx, dy = x1 - x0 - w, y1 - y0 - h
            if dx < 0 or dy < 0:
                continue
            if rule == "low":
                score = (y0 + h, x0)
            elif rule == "left":
                score = (x0 + w, y0)
            elif rule == "short side":
                score = (dx, dy) if dx < dy else (dy, dx)
            elif rule == "area":
                score = ((x1 - x0) * (y1 - y0) - w * h, min(dx, dy))
            else:
                score = (dy, dx) if dx < dy else (dx, dy)
            if best is None or score < best:
                best, found = score, (size, x0, y0)
    return found
