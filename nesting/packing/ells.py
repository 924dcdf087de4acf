"""Equal rectangles on L-shaped parts: what splitting into rectangles alone does not reach.

A rectangle is split into two L-shapes and those again into two (Lins, Lins and Morabito, Journal of the
Operational Research Society 54, 2003; Birgin, Lobato and Morabito, ibid. 61, 2010). Here the question is
whether a shape holds a number of rectangles, so that the little waste allowed prunes most splits.
"""

from bisect import bisect, bisect_left
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property

from nesting.packing.blocks import Blocks, Cell, sums

Ell = tuple[int, int, int, int]
"""``(X, Y, x, y)``: X wide up to y, x wide from there up to Y; a rectangle has x = X and y = Y."""

Part = tuple[Ell, int, int, int, int]
"""A shape, where its corner lies, and the directions (1 or -1) in which it extends from there."""

_SPLITS = 400_000
_DEPTH = 4


@dataclass
class Ells:
    """Search on top of the splits into blocks.

    Examples
    --------
    >>> cells = Ells(Blocks(7, 3, 43, 26)).cells(53)
    >>> len(cells), max(x + w for x, y, w, h in cells) <= 43
    (53, True)
    """

    blocks: Blocks
    splits: int = 0
    _known: dict[tuple[Ell, int], tuple[int, tuple[Part, int, Part, int] | None]] = field(
        default_factory=dict
    )

    def cells(self, wanted: int) -> list[Cell]:
        """Place `wanted` rectangles on the whole sheet; empty if no way was found."""
        whole = (self.blocks.width, self.blocks.height, self.blocks.width, self.blocks.height)
        if not self._holds(whole, wanted, _DEPTH):
            return []
        return self._placed((whole, 0, 0, 1, 1), wanted)

    def _holds(self, ell: Ell, wanted: int, depth: int) -> bool:
        ell = self._rounded(ell)
        if wanted <= 0 or self._simple(ell)[0] >= wanted:
            return True
        item = self.blocks.a * self.blocks.b
        if _area(ell) < wanted * item or depth == 0:
            return False
        searched, way = self._known.get((ell, wanted), (0, None))
        if way is not None:
            return True
        if searched >= depth:
            return False
        for one, other in self._splits(ell):
            self.splits += 1
            if self.splits > _SPLITS:
                return False
            most = _area(other[0]) // item
            for share in range(max(wanted - most, 0), min(_area(one[0]) // item, wanted) + 1):
                if self._holds(one[0], share, depth - 1) and self._holds(other[0], wanted - share, depth - 1):
                    self._known[ell, wanted] = depth, (one, share, other, wanted - share)
                    return True
        self._known[ell, wanted] = depth, None
        return False

    def _rounded(self, ell: Ell) -> Ell:
        """Shrink to lengths that sides add up to, which loses nothing."""
        width, height, x, y = ell
        width, x = self._down(width), self._down(x)
        height, y = self._down(height), self._down(y)
        if x == 0 or height == y:
            return width, y, width, y
        if y == 0 or width == x:
            return x, height, x, height
        return width, height, x, y

    def _down(self, length: int) -> int:
        return self._floor[length]

    @cached_property
    def _lengths(self) -> list[int]:
        """What sides of the rectangle add up to, 0 left out."""
        longest = max(self.blocks.width, self.blocks.height)
        return [int(length) for length in sums(self.blocks.a, self.blocks.b, longest) if length]

    @cached_property
    def _floor(self) -> list[int]:
        """The largest such length up to every length."""
        lengths = [0, *self._lengths]
        longest = max(self.blocks.width, self.blocks.height)
        return [lengths[bisect(lengths, length) - 1] for length in range(longest + 1)]

    def _simple(self, ell: Ell) -> tuple[int, list[Part]]:
        """Best of the blocks: the whole of a rectangle, or an L cut straight at its inner corner."""
        width, height, x, y = ell
        if x == width:
            return self.blocks.most(width, height), [(ell, 0, 0, 1, 1)]
        flat = self.blocks.most(width, y) + self.blocks.most(x, height - y)
        tall = self.blocks.most(x, height) + self.blocks.most(width - x, y)
        if flat >= tall:
            return flat, [_rectangle(width, y, 0, 0), _rectangle(x, height - y, 0, y)]
        return tall, [_rectangle(x, height, 0, 0), _rectangle(width - x, y, x, 0)]

    def _splits(self, ell: Ell) -> Iterator[tuple[Part, Part]]:
        width, height, x, _ = ell
        return self._of_rectangle(width, height) if x == width else self._of_ell(ell)

    def _under(self, most: int) -> list[int]:
        return self._lengths[: bisect_left(self._lengths, most)]

    def _of_rectangle(self, width: int, height: int) -> Iterator[tuple[Part, Part]]:
        for x in self._under(width):
            for low in self._under(height):
                for high in self._under(height):
                    if low < high:
                        yield (
                            ((width, high, x, low), 0, 0, 1, 1),
                            ((width, height - low, width - x, height - high), width, height, -1, -1),
                        )
        for y in self._under(height):
            for near in self._under(width):
                for far in self._under(width):
                    if near < far:
                        yield (
                            ((far, height, near, y), 0, 0, 1, 1),
                            ((width - near, height, width - far, height - y), width, height, -1, -1),
                        )

    def _of_ell(self, ell: Ell) -> Iterator[tuple[Part, Part]]:
        width, height, x, y = ell
        xs, ys = self._under(width), self._under(height)
        for cut in ys:
            if cut < y:
                yield _rectangle(width, cut, 0, 0), ((width, height - cut, x, y - cut), 0, cut, 1, 1)
                yield _rectangle(x, height - cut, 0, cut), ((width, y, width - x, cut), width, 0, -1, 1)
            else:
                yield ((width, cut, x, y), 0, 0, 1, 1), _rectangle(x, height - cut, 0, cut)
        for cut in xs:
            if cut < x:
                yield _rectangle(cut, height, 0, 0), ((width - cut, height, x - cut, y), cut, 0, 1, 1)
                yield _rectangle(width - cut, y, cut, 0), ((x, height, cut, height - y), 0, height, 1, -1)
            else:
                yield ((cut, height, x, y), 0, 0, 1, 1), _rectangle(width - cut, y, cut, 0)
        for cut_x in xs:
            for cut_y in ys:
                if cut_x < x and cut_y < y:
                    yield (
                        ((width, height, cut_x, cut_y), 0, 0, 1, 1),
                        ((width - cut_x, height - cut_y, x - cut_x, y - cut_y), cut_x, cut_y, 1, 1),
                    )
                elif cut_x >= x and cut_y < y:
                    yield (
                        ((cut_x, height - cut_y, x, y - cut_y), 0, cut_y, 1, 1),
                        ((width, y, width - cut_x, cut_y), width, 0, -1, 1),
                    )
                elif cut_x < x:
                    yield (
                        ((width - cut_x, cut_y, x - cut_x, y), cut_x, 0, 1, 1),
                        ((x, height, cut_x, height - cut_y), 0, height, 1, -1),
                    )

    def _placed(self, part: Part, wanted: int) -> list[Cell]:
        ell, x, y, right, up = part
        ell = self._rounded(ell)
        value, pieces = self._simple(ell)
        if value >= wanted:
            cells = [
                (px + cx, py + cy, w, h)
                for (size, px, py, _, _) in pieces
                for cx, cy, w, h in self.blocks.cells(size[0], size[1])
            ][:wanted]
        else:
            way = self._known[ell, wanted][1]
            assert way is not None
            cells = self._placed(way[0], way[1]) + self._placed(way[2], way[3])
        return [
            (x + cx if right > 0 else x - cx - w, y + cy if up > 0 else y - cy - h, w, h)
            for cx, cy, w, h in cells
        ]


def _area(ell: Ell) -> int:
    width, height, x, y = ell
    return width * y + x * (height - y)


def _rectangle(width: int, height: int, x: int, y: int) -> Part:
    return (width, height, width, height), x, y, 1, 1
