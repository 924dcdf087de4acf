"""What a box takes of a bed at least: the linear relaxation behind bounds and assignments."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nesting.packing.dual_feasible import values

Sizes = tuple[tuple[int, int], ...]
Shares = NDArray[np.float64]


@dataclass(frozen=True)
class ShareTable:
    """Products of dual feasible functions of width and height, for every kind of box.

    A pair of functions gives each box a share such that the boxes of one bed have shares of 1 or
    less together. A box that may turn gets the smaller share of its two ways, which keeps that true.
    """

    across: Shares
    along: Shares
    turned_across: Shares
    turned_along: Shares
    turns: NDArray[np.bool_]

    @classmethod
    def of(cls, kinds: Sequence[Sizes], quantities: Sequence[int], width: int, height: int) -> "ShareTable":
        """Tabulate for a bed of that size; every kind has one or two sizes, each not above it."""
        first = np.array([sizes[0] for sizes in kinds], dtype=np.int64)
        other = np.array([sizes[-1] for sizes in kinds], dtype=np.int64)
        n = len(kinds)
        turns = (first != other).any(axis=1)
        both = np.concatenate([quantities, np.where(turns, quantities, 0)])
        across = values(np.concatenate([first[:, 0], other[:, 0]]), width, both)
        along = values(np.concatenate([first[:, 1], other[:, 1]]), height, both)
        return cls(across[:, :n], along[:, :n], across[:, n:], along[:, n:], turns)

    def share(self, kind: int) -> Shares:
        """Shares of one box under every pair, shape (functions across, functions along)."""
        share: Shares = np.outer(self.across[:, kind], self.along[:, kind])
        if self.turns[kind]:
            share = np.minimum(share, np.outer(self.turned_across[:, kind], self.turned_along[:, kind]))
        return share

    def total(self, counts: Sequence[tuple[int, int]]) -> Shares:
        """Shares of a set of boxes ``(kind, how many)`` under every pair."""
        fixed = [(k, c) for k, c in counts if not self.turns[k]]
        kinds, times = [k for k, _ in fixed], np.array([c for _, c in fixed], dtype=float)
        total: Shares = (self.across[:, kinds] * times) @ self.along[:, kinds].T
        for kind, count in counts:
            if self.turns[kind]:
                total = total + count * self.share(kind)
        return total

    def row(self, pair: tuple[int, int]) -> Shares:
        """Share of every kind under one pair of functions, shape (kinds,)."""
        i, j = pair
        straight: Shares = self.across[i] * self.along[j]
        turned: Shares = self.turned_across[i] * self.turned_along[j]
        return np.where(self.turns, np.minimum(straight, turned), straight)

    def strongest(self, counts: Sequence[tuple[int, int]]) -> tuple[float, tuple[int, int]]:
        """Find the pair under which a set of boxes has the largest share."""
        total = self.total(counts)
        i, j = divmod(int(total.argmax()), total.shape[1])
        return float(total[i, j]), (i, j)
