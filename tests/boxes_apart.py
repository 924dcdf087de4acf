"""Judges boxes on a bed by plain geometry, apart from whatever laid them."""

from nesting.packing.boxes import Boxes, Spot


def assert_apart(boxes: Boxes, bed: int, spots: tuple[Spot, ...]) -> None:
    """Insist that no box meets another, a gap, a keep-out or the edge."""
    lying = [(*_box(boxes, spot), boxes.kinds[spot.kind].gap) for spot in spots]
    lying += [(*blocked, 0) for blocked in boxes.beds[bed].blocked]
    for x0, y0, x1, y1, _ in lying[: len(spots)]:
        assert x0 >= 0 and y0 >= 0 and x1 <= boxes.beds[bed].width and y1 <= (boxes.beds[bed].height or 0)
    for i, (x0, y0, x1, y1, gap) in enumerate(lying[: len(spots)]):
        for j in range(i + 1, len(lying)):
            a0, b0, a1, b1, other = lying[j]
            away = max(gap, other) if j < len(spots) else 0
            assert x1 + away <= a0 or a1 + away <= x0 or y1 + away <= b0 or b1 + away <= y0


def _box(boxes: Boxes, spot: Spot) -> tuple[int, int, int, int]:
    w, h = boxes.kinds[spot.kind].sizes[spot.size]
    return spot.x, spot.y, spot.x + w, spot.y + h
