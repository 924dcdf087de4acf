"""Filling one bed with boxes: the free part is kept as its largest empty rectangles."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from nesting.packing.boxes import Bed, Box, Boxes, Kind, Spot

Score = tuple[int, int]
Scoring = Callable[[int, int, int, int, int, int], Score]

_SCORES: dict[str, Scoring] = {
    "low": lambda x, y, w, h, dx, dy: (y + h, x),  # noqa: ARG005
    "left": lambda x, y, w, h, dx, dy: (x + w, y),  # noqa: ARG005
    "short side": lambda x, y, w, h, dx, dy: (dx, dy) if dx < dy else (dy, dx),  # noqa: ARG005
    "area": lambda x, y, w, h, dx, dy: ((w + dx) * (h + dy) - w * h, min(dx, dy)),  # noqa: ARG005
    "long side": lambda x, y, w, h, dx, dy: (dy, dx) if dx < dy else (dx, dy),  # noqa: ARG005
}
"""What is made least by a place (x, y) for a box w x h in a free rectangle dx wider and dy higher."""

RULES = tuple(_SCORES)
"""How a place is chosen: lowest, leftmost, or the free rectangle that the box fits best."""


@dataclass
class Floor:
    """A bed being filled.

    For every gap there is a list of the largest rectangles where a box of that gap may still lie:
    a box placed before is in the way with the larger of the two gaps round it.
    """

    free: dict[int, list[Box]]
    narrowest: int
    lowest: int

    @classmethod
    def of(cls, bed: Bed, height: int, kinds: Sequence[Kind]) -> "Floor":
        """Start with nothing but the keep-outs in the way of the kinds of boxes to come."""
        narrowest, lowest = min([kind.narrowest for kind in kinds]), min([kind.lowest for kind in kinds])
        free = [(0, 0, bed.width, height)]
        for box in bed.blocked:
            free = cut(free, box, narrowest, lowest)
        return cls(dict.fromkeys((kind.gap for kind in kinds), free), narrowest, lowest)

    def place(self, width: int, height: int, gap: int, x: int, y: int) -> None:
        """Put a box in the way of others."""
        for other, free in self.free.items():
            g = max(gap, other)
            self.free[other] = cut(
                free, (x - g, y - g, x + width + g, y + height + g), self.narrowest, self.lowest
            )


def cut(free: list[Box], box: Box, narrowest: int, lowest: int) -> list[Box]:
    """Take a box out of a set of largest empty rectangles; what is too small for any box is dropped."""
    bx0, by0, bx1, by1 = box
    kept: list[Box] = []
    pieces: list[Box] = []
    for rectangle in free:
        x0, y0, x1, y1 = rectangle
        if bx0 >= x1 or bx1 <= x0 or by0 >= y1 or by1 <= y0:
            kept.append(rectangle)
            continue
        if bx0 - x0 >= narrowest:
            pieces.append((x0, y0, bx0, y1))
        if x1 - bx1 >= narrowest:
            pieces.append((bx1, y0, x1, y1))
        if by0 - y0 >= lowest:
            pieces.append((x0, y0, x1, by0))
        if y1 - by1 >= lowest:
            pieces.append((x0, by1, x1, y1))
    distinct = list(dict.fromkeys(pieces)) if len(pieces) > 1 else pieces
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
    boxes: Boxes,
    bed: int,
    order: Sequence[int],
    left: dict[int, int],
    rule: str,
    height: int | None = None,
    kept: Sequence[Spot] = (),
    allowed: tuple[float, Sequence[float]] | None = None,
) -> tuple[Spot, ...]:
    """Place what fits beside what is kept, kind after kind in the order given, taking it off `left`.

    `allowed` is a weight and the weights of the kinds: once what does not fit weighs more, nothing more
    is placed.
    """
    stock = boxes.beds[bed]
    if not order:
        return tuple(kept)
    floor = Floor.of(stock, stock.height or height or 0, [boxes.kinds[k] for k in order])
    for spot in kept:
        there = boxes.kinds[spot.kind]
        floor.place(*there.sizes[spot.size], there.gap, spot.x, spot.y)
    score = _SCORES[rule]
    spots = list(kept)
    most, weights = allowed or (0.0, ())
    lost = 0.0
    for k in order:
        kind, wanted = boxes.kinds[k], left.get(k, 0)
        for placed in range(wanted):
            found = _place(floor.free[kind.gap], kind.sizes, score)
            if found is None:
                lost += weights[k] * (wanted - placed) if weights else 0.0
                break
            size, x, y = found
            floor.place(*kind.sizes[size], kind.gap, x, y)
            spots.append(Spot(k, size, x, y))
            left[k] -= 1
        if lost > most:
            break
    return tuple(spots)


def _place(
    free: list[Box],
    sizes: tuple[tuple[int, int], ...],
    score: Callable[[int, int, int, int, int, int], Score],
) -> tuple[int, int, int] | None:
    best: Score | None = None
    found = None
    for size, (w, h) in enumerate(sizes):
        for x0, y0, x1, y1 in free:
            dx, dy = x1 - x0 - w, y1 - y0 - h
            if dx >= 0 and dy >= 0:
                here = score(x0, y0, w, h, dx, dy)
                if best is None or here < best:
                    best, found = here, (size, x0, y0)
    return found
