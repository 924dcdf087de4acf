"""Joins lines and arcs that meet end to end, as outlines are often drawn piece by piece."""

from collections import defaultdict
from collections.abc import Sequence

from nesting.geometry.contour import Contour, Vertex

MEET_MM = 0.001
"""Ends meet within this."""


def joined(contours: Sequence[Contour]) -> list[Contour]:
    """Join open contours wherever exactly two ends meet; closed ones stay as they are.

    >>> half = Contour(((0, 0, 1), (2, 0, 0)), closed=False)
    >>> [contour.closed for contour in joined([half, half.moved(2, 0, 180)])]
    [True]
    """
    return [contour for contour in contours if contour.closed] + _Walk(
        [contour for contour in contours if not contour.closed]
    ).chains()


class _Walk:
    """Walks along open contours from end to end."""

    def __init__(self, contours: Sequence[Contour]) -> None:
        self._contours = contours
        places = _Places()
        self._ends = [
            (places.number(*c.vertices[0][:2]), places.number(*c.vertices[-1][:2])) for c in contours
        ]
        self._meeting: dict[int, list[int]] = defaultdict(list)
        for k, (first, last) in enumerate(self._ends):
            self._meeting[first].append(k)
            self._meeting[last].append(k)
        self._used = [False] * len(contours)

    def chains(self) -> list[Contour]:
        """Start where lines end or branch; what is left after that are rings."""
        made: list[Contour] = []
        for ring in (False, True):
            for k, ends in enumerate(self._ends):
                for side in (0, 1):
                    if not self._used[k] and (ring or len(self._meeting[ends[side]]) != 2):
                        made.append(self._follow(k, forwards=side == 0))
        return made

    def _follow(self, k: int, *, forwards: bool) -> Contour:
        vertices: list[Vertex] = []
        begin = self._ends[k][0 if forwards else 1]
        while True:
            self._used[k] = True
            contour = self._contours[k] if forwards else self._contours[k].reversed()
            vertices += contour.vertices[:-1]
            here = self._ends[k][1 if forwards else 0]
            onward = [other for other in self._meeting[here] if not self._used[other]]
            if len(self._meeting[here]) != 2 or not onward:
                break
            k = onward[0]
            forwards = self._ends[k][0] == here
        if here == begin and len(vertices) > 1:
            return Contour(tuple(vertices))
        return Contour((*vertices, contour.vertices[-1]), closed=False)


class _Places:
    """Numbers points, the same for those that meet."""

    def __init__(self) -> None:
        self._cells: dict[tuple[int, int], list[tuple[float, float, int]]] = defaultdict(list)
        self._count = 0

    def number(self, x: float, y: float) -> int:
        """Give the number of a point."""
        column, row = round(x / MEET_MM), round(y / MEET_MM)
        for cell in ((column + dx, row + dy) for dx in (-1, 0, 1) for dy in (-1, 0, 1)):
            for px, py, number in self._cells.get(cell, ()):
                if (px - x) ** 2 + (py - y) ** 2 <= MEET_MM**2:
                    return number
        self._count += 1
        self._cells[column, row].append((x, y, self._count))
        return self._count
