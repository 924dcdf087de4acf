"""Equal rectangles on a rectangle: recursive splitting into blocks.

A rectangle is split in two by a straight cut, or in five by a pinwheel of four blocks round a fifth,
and every block again. Sizes are taken from the sums of the two side lengths only, which loses
nothing (normal patterns: Herz 1972; five blocks: Morabito and Morales, J. Oper. Res. Soc. 49, 1998).
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

Cell = tuple[int, int, int, int]
"""``(x, y, width, height)`` of one rectangle."""

_PINWHEELS = 100_000_000
"""Most pinwheels looked at in all: small blocks first, then straight cuts have to do."""

_WHOLE = 10_000_000
"""Most pinwheels looked at for the whole sheet, in any case."""


def sums(a: int, b: int, limit: int) -> NDArray[np.int64]:
    """All ``i a + j b`` up to a limit, sorted, 0 included.

    >>> sums(7, 3, 12).tolist()
    [0, 3, 6, 7, 9, 10, 12]
    """
    found = {i * a + j for i in range(limit // a + 1) for j in range(0, limit - i * a + 1, b)}
    return np.array(sorted(found), dtype=np.int64)


@dataclass
class Blocks:
    """The best split of every block of a sheet; `a` x `b` may lie along either axis.

    Examples
    --------
    >>> len(Blocks(5, 3, 22, 16).cells())
    23
    """

    a: int
    b: int
    width: int
    height: int

    @cached_property
    def xs(self) -> NDArray[np.int64]:
        """Widths that matter."""
        return sums(self.a, self.b, self.width)

    @cached_property
    def ys(self) -> NDArray[np.int64]:
        """Heights that matter."""
        return sums(self.a, self.b, self.height)

    @cached_property
    def count(self) -> NDArray[np.int32]:
        """How many rectangles the splits get on a block of each width and height."""
        return self._solved[0]

    @cached_property
    def _solved(self) -> tuple[NDArray[np.int32], dict[tuple[int, int], tuple[int, ...]]]:
        xs, ys = self.xs, self.ys
        count = np.zeros((len(xs), len(ys)), dtype=np.int32)
        choice: dict[tuple[int, int], tuple[int, ...]] = {}
        for i in range(1, len(xs)):
            for j in range(1, len(ys)):
                self._solve(count, choice, i, j)
        return count, choice

    @cached_property
    def _less_x(self) -> NDArray[np.int64]:
        return _differences(self.xs)

    @cached_property
    def _less_y(self) -> NDArray[np.int64]:
        return _differences(self.ys)

    def _solve(
        self, count: NDArray[np.int32], choice: dict[tuple[int, int], tuple[int, ...]], i: int, j: int
    ) -> None:
        x, y = int(self.xs[i]), int(self.ys[j])
        limit = x * y // (self.a * self.b)
        count[i, j] = max(self._single(x, y), count[i - 1, j], count[i, j - 1])
        if count[i, j] == limit:
            if count[i - 1, j] == limit:
                choice[i, j] = (1, i - 1)
            elif count[i, j - 1] == limit:
                choice[i, j] = (2, j - 1)
            return
        if count[i, j] == count[i - 1, j]:
            choice[i, j] = (1, i - 1)
        elif count[i, j] == count[i, j - 1]:
            choice[i, j] = (2, j - 1)
        across = count[1:i, j] + count[self._less_x[i, 1:i], j]
        if across.size and across.max() > count[i, j]:
            count[i, j], choice[i, j] = across.max(), (1, int(across.argmax()) + 1)
        along = count[i, 1:j] + count[i, self._less_y[j, 1:j]]
        if along.size and along.max() > count[i, j]:
            count[i, j], choice[i, j] = along.max(), (2, int(along.argmax()) + 1)
        whole = (i, j) == (len(self.xs) - 1, len(self.ys) - 1)
        if count[i, j] < limit and i > 2 and j > 2 and (i * j) ** 2 <= (_WHOLE if whole else self._most):
            self._pinwheel(count, choice, i, j)

    @cached_property
    def _most(self) -> int:
        """Most pinwheels of one block such that all blocks up to that stay within the limit."""
        i, j = np.arange(len(self.xs)), np.arange(len(self.ys))
        sizes = np.sort(np.outer(i, j).ravel().astype(np.int64) ** 2)
        within = int(np.searchsorted(np.cumsum(sizes), _PINWHEELS, side="right"))
        return int(sizes[min(within, len(sizes)) - 1])

    def _pinwheel(
        self, count: NDArray[np.int32], choice: dict[tuple[int, int], tuple[int, ...]], i: int, j: int
    ) -> None:
        """Blocks: left ``x1 x (Y-y1)``, top ``(X-x1) x (Y-y2)``, middle, bottom ``x2 x y1``, right."""
        less_x, less_y = self._less_x[i, 1:i], self._less_y[j, 1:j]
        left = count[1:i][:, less_y][:, None, :, None]
        top = count[less_x][:, less_y][:, None, None, :]
        bottom = count[1:i, 1:j][None, :, :, None]
        right = count[less_x, 1:j][None, :, None, :]
        middle_x, middle_y = self._less_x[1:i, 1:i].T, self._less_y[1:j, 1:j].T
        middle = count[middle_x[:, :, None, None], middle_y[None, None, :, :]]
        total = left + top + bottom + right + middle
        total[middle_x < 0] = 0
        total[:, :, middle_y < 0] = 0
        if total.max() > count[i, j]:
            best = np.unravel_index(int(total.argmax()), total.shape)
            count[i, j], choice[i, j] = total.max(), (5, *(int(k) + 1 for k in best))

    def _single(self, x: int, y: int) -> int:
        return max((x // self.a) * (y // self.b), (x // self.b) * (y // self.a))

    def cells(self) -> list[Cell]:
        """Place the rectangles."""
        cells: list[Cell] = []
        todo = [(0, 0, len(self.xs) - 1, len(self.ys) - 1)]
        while todo:
            x, y, i, j = todo.pop()
            split = self._solved[1].get((i, j))
            if split is None:
                cells += self._grid(x, y, int(self.xs[i]), int(self.ys[j]))
            else:
                todo += self._parts(x, y, i, j, split)
        return cells

    def _grid(self, x: int, y: int, width: int, height: int) -> list[Cell]:
        a, b = self.a, self.b
        if (width // a) * (height // b) < (width // b) * (height // a):
            a, b = b, a
        return [(x + a * p, y + b * q, a, b) for q in range(height // b) for p in range(width // a)]

    def _parts(
        self, x: int, y: int, i: int, j: int, split: tuple[int, ...]
    ) -> list[tuple[int, int, int, int]]:
        xs, ys, less_x, less_y = self.xs, self.ys, self._less_x, self._less_y
        if split[0] == 1:
            k = split[1]
            return [(x, y, k, j), (x + int(xs[k]), y, int(less_x[i, k]), j)]
        if split[0] == 2:
            k = split[1]
            return [(x, y, i, k), (x, y + int(ys[k]), i, int(less_y[j, k]))]
        _, x1, x2, y1, y2 = split
        at_x1, at_x2, at_y1, at_y2 = x + int(xs[x1]), x + int(xs[x2]), y + int(ys[y1]), y + int(ys[y2])
        return [
            (x, at_y1, x1, int(less_y[j, y1])),
            (at_x1, at_y2, int(less_x[i, x1]), int(less_y[j, y2])),
            (at_x1, at_y1, int(less_x[x2, x1]), int(less_y[y2, y1])),
            (x, y, x2, y1),
            (at_x2, y, int(less_x[i, x2]), y2),
        ]


def _differences(values: NDArray[np.int64]) -> NDArray[np.int64]:
    """Index of the largest value not above ``values[i] - values[k]``; -1 where that is negative."""
    return np.searchsorted(values, values[:, None] - values[None, :], side="right") - 1
