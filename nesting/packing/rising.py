"""Equal rectangles with hardly any waste: a sheet filled from below, cell by cell, by depth-first search.

The lowest and leftmost free cell is covered by a rectangle lying either way, or is wasted. What was
reached before with as much waste to spare is not tried again. That finds what splits into blocks
cannot, whatever the structure, as long as little waste is allowed.
"""

from nesting.packing.blocks import Cell

_STEPS = 500_000
_HIGHEST = 255


def fill_rising(a: int, b: int, width: int, height: int, wanted: int) -> list[Cell]:
    """Place `wanted` rectangles of sides `a` and `b`; empty if none was found within a limit of steps.

    Examples
    --------
    >>> len(fill_rising(7, 3, 43, 26, 53))
    53
    >>> fill_rising(7, 3, 10, 5, 3)
    []
    """
    if width > height:
        return [(y, x, h, w) for x, y, w, h in fill_rising(a, b, height, width, wanted)]
    waste = width * height - wanted * a * b
    if waste < 0 or height > _HIGHEST:
        return []
    start = bytes(width)
    before: dict[bytes, tuple[int, bytes, Cell | None]] = {start: (waste, b"", None)}
    todo = [start]
    for _ in range(_STEPS):
        if not todo:
            return []
        profile = todo.pop()
        low = min(profile)
        if low == height:
            return _cells(before, profile)
        spare, x = before[profile][0], profile.index(low)
        ways: list[tuple[int, int, int, Cell | None]] = [(spare - 1, 1, 1, None)] if spare else []
        ways += [(spare, w, h, (x, low, w, h)) for w, h in ((a, b), (b, a))]
        for left, w, h, cell in ways:
            if low + h <= height and x + w <= width and profile.count(low, x, x + w) == w:
                raised = profile[:x] + bytes((low + h,)) * w + profile[x + w :]
                if raised not in before or before[raised][0] < left:
                    before[raised] = (left, profile, cell)
                    todo.append(raised)
    return []


def _cells(before: dict[bytes, tuple[int, bytes, Cell | None]], profile: bytes) -> list[Cell]:
    cells = []
    while profile:
        _, profile, cell = before[profile]
        if cell is not None:
            cells.append(cell)
    return cells
