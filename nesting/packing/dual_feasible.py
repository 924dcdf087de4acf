"""Dual feasible functions: lengths re-valued so that whatever fitted side by side still does.

Every function here maps [0, size] to numbers, with ``f(size) = 1``, such that lengths whose sum is at most
`size` have values whose sum is at most 1. Families as surveyed by Clautiaux, Alves and Valério de Carvalho,
Annals of Operations Research 179 (2010), and, for the one that depends on the lengths, by Carlier,
Clautiaux and Moukrim, Computers & Operations Research 34 (2007).
"""

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

Lengths = NDArray[np.int64]
Values = NDArray[np.float64]

_MOST_PARAMETERS = 120
_LARGEST_STEPS = 40


def values(lengths: Lengths, size: int, quantities: Lengths | None = None) -> Values:
    """Apply every function to the lengths.

    Parameters
    ----------
    lengths
        Whole lengths, each from 0 to `size`, shape (n,).
    size
        What they share, above 0.
    quantities
        How many there are of each length, shape (n,); 1 each if left out. One family of functions
        counts them, and its limit holds for no more than that.

    Returns
    -------
    Array of shape (functions, n), duplicates left out; the first row is the plain share of `size`.

    Examples
    --------
    >>> table = values(np.array([6, 4, 5]), 10)
    >>> table[0].tolist()
    [0.6, 0.4, 0.5]
    >>> bool((table[:, 0] + table[:, 1] <= 1 + 1e-9).all())
    True
    """
    rows = [lengths / size, *_cut_offs(lengths, size), *_roundings(lengths, size), *_steps(lengths, size)]
    rows += [*_doubled_roundings(lengths, size), *_slopes(lengths, size), *_counts(lengths, size, quantities)]
    table = np.array(rows)
    _, first = np.unique(np.round(table, 9), axis=0, return_index=True)
    return table[np.sort(first)]


def _parameters(lengths: Lengths, size: int) -> list[int]:
    """Values where a function of the lengths changes: the lengths and what is left beside them."""
    found = np.unique(np.concatenate([lengths, size - lengths, lengths + 1, size - lengths + 1]))
    found = found[(found >= 1) & (2 * found <= size + 1)]
    if len(found) > _MOST_PARAMETERS:
        found = found[np.linspace(0, len(found) - 1, _MOST_PARAMETERS).astype(int)]
    return [int(value) for value in found]


def _cut_offs(lengths: Lengths, size: int) -> Iterator[Values]:
    """Let short lengths count nothing, and what leaves less than that counts as everything."""
    for short in _parameters(lengths, size):
        if 2 * short <= size:
            middle = np.where(lengths < short, 0.0, lengths / size)
            yield np.where(lengths > size - short, 1.0, middle)


def _roundings(lengths: Lengths, size: int) -> Iterator[Values]:
    """Round down to k-ths, unless the length is an exact multiple of 1/(k+1)."""
    for k in range(1, _LARGEST_STEPS):
        scaled = lengths * (k + 1)
        yield np.where(scaled % size == 0, lengths / size, (scaled // size) / k)


def _steps(lengths: Lengths, size: int) -> Iterator[Values]:
    """Round short lengths down to k-ths and long ones up."""
    for k in range(2, _LARGEST_STEPS):
        short = np.maximum(-(-k * lengths // size) - 1, 0)
        rest = np.maximum(-(-k * (size - lengths) // size) - 1, 0)
        value = np.where(2 * lengths < size, short, np.where(2 * lengths == size, (k - 1) / 2, k - 1 - rest))
        yield value / (k - 1)


def _doubled_roundings(lengths: Lengths, size: int) -> Iterator[Values]:
    """Count short lengths in whole steps, and long ones by the steps left beside them."""
    for step in _parameters(lengths, size):
        most = size // step
        long = 2 * (most - (size - lengths) // step)
        value = np.where(2 * lengths > size, long, np.where(2 * lengths == size, most, 2 * (lengths // step)))
        yield value / (2 * most)


def _slopes(lengths: Lengths, size: int) -> Iterator[Values]:
    """Whole steps and, of the rest, the part that exceeds the rest of `size`."""
    for step in _parameters(lengths, size):
        rest, most = size % step, size // step
        value = lengths // step + np.maximum(lengths % step - rest, 0) / (step - rest)
        yield value / most


def _counts(lengths: Lengths, size: int, quantities: Lengths | None) -> Iterator[Values]:
    """Let middle lengths count one each, and a long one as many as it displaces of those there are."""
    there = np.sort(lengths if quantities is None else np.repeat(lengths, np.minimum(quantities, size)))
    for short in _parameters(lengths, size):
        middle = there[(there >= short) & (2 * there <= size)]
        ends = np.cumsum(middle)
        most = int(np.searchsorted(ends, size, side="right"))
        if most == 0:
            continue
        beside = np.searchsorted(ends, size - lengths, side="right")
        value = np.where(2 * lengths > size, most - beside, np.where(lengths >= short, 1, 0))
        yield value / most
