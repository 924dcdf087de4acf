"""Figures as a reader wants them."""

from collections.abc import Callable, Iterable
from itertools import groupby
from typing import Any

from nesting.words import counted


def duration(seconds: float) -> str:
    r"""Write a time with two units at most.

    >>> duration(4.4), duration(75), duration(7384), duration(0)
    ('4\xa0s', '1\xa0min 15\xa0s', '2\xa0h 03\xa0min', '0\xa0s')
    """
    whole = round(seconds)
    if whole < 60:
        return f"{whole}\u00a0s"
    if whole < 3600:
        return f"{whole // 60}\u00a0min {whole % 60:02d}\u00a0s"
    minutes = round(seconds / 60)
    return f"{minutes // 60}\u00a0h {minutes % 60:02d}\u00a0min"


def distance(mm: float) -> str:
    r"""Write a length along a path.

    >>> distance(310.4), distance(12345)
    ('310\xa0mm', '12.3\xa0m')
    """
    return f"{mm:.0f}\u00a0mm" if mm < 1000 else f"{mm / 1000:.1f}\u00a0m"


def figure(value: float) -> str:
    """Write a number to 0.01 without needless digits.

    >>> figure(12.5), figure(-0.001), figure(4)
    ('12.5', '0', '4')
    """
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def percent(share: float) -> str:
    r"""Write a share.

    >>> percent(0.714)
    '71\xa0%'
    """
    return f"{100 * share:.0f}\u00a0%"


def comparison(value: float, other: float) -> str:
    """Say how much less, or more, a value is than another one.

    >>> comparison(75, 100), comparison(110, 100), comparison(5, 5), comparison(1, 0)
    ('25 % less', '10 % more', 'the same', 'the same')
    """
    change = round(100 * (1 - value / other)) if other else 0
    if change == 0:
        return "the same"
    return f"{abs(change)} % {'less' if change > 0 else 'more'}"


def ranges(numbers: Iterable[int]) -> str:
    """Write whole numbers, runs of three and more shortened.

    >>> ranges([1, 2, 3, 5, 6, 9])
    '1–3, 5, 6, 9'
    """
    pieces: list[str] = []
    for _, run in groupby(enumerate(sorted(numbers)), key=lambda pair: pair[1] - pair[0]):
        found = [number for _, number in run]
        pieces += [f"{found[0]}–{found[-1]}"] if len(found) > 2 else [str(number) for number in found]
    return ", ".join(pieces)


FILTERS: dict[str, Callable[..., Any]] = {
    function.__name__: function
    for function in (duration, distance, figure, percent, counted, comparison, ranges)
}
