"""Counts and numbers of pockets, units and loads as a reader wants them."""

from collections.abc import Iterable, Sequence


def counted(count: int, noun: str) -> str:
    """Write a count with its noun.

    >>> counted(1, "sheet"), counted(3, "sheet"), counted(2, "pass")
    ('1 sheet', '3 sheets', '2 passes')
    """
    plural = noun + ("es" if noun.endswith("s") else "s")
    return f"{count} {noun if count == 1 else plural}"


def listed(numbers: Sequence[int]) -> str:
    """Write rising numbers, runs shortened.

    >>> listed([1, 2, 3, 4, 7]), listed(range(1, 3))
    ('1-4, 7', '1-2')
    """
    runs: list[tuple[int, int]] = []
    for number in numbers:
        follows = runs and number == runs[-1][1] + 1
        runs[-1:] = [(runs[-1][0], number)] if follows else [*runs[-1:], (number, number)]
    return ", ".join(span(*run) for run in runs)


def pockets_in_words(numbers: Iterable[int]) -> str:
    """Name pockets by their numbers.

    >>> pockets_in_words([3]), pockets_in_words({5, 4, 6})
    ('pocket 3', 'pockets 4-6')
    """
    rising = sorted(numbers)
    return f"pocket{'' if len(rising) == 1 else 's'} {listed(rising)}"


def span(low: int, high: int) -> str:
    """Write the numbers from one to another.

    >>> span(2, 2), span(2, 5)
    ('2', '2-5')
    """
    return str(low) if low == high else f"{low}-{high}"
