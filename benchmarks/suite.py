"""What a benchmark suite is: instances, a way to solve one, and published figures to stand beside."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any


@dataclass(frozen=True)
class Settings:
    """How a benchmark is run.

    Attributes
    ----------
    data
        Folder of the public data; None uses generated instances.
    seconds
        Time for one instance.
    seed
        Of the search, and of generated instances.
    turns
        Whether quarter turns are allowed where the suite lets one choose.
    only
        Part of an instance's name; the others are left out.
    out
        Folder for pictures of layouts; None draws none.
    processes
        How many processes search for one irregular instance, each with a seed of its own.
    """

    data: Path | None
    seconds: float
    seed: int = 1
    turns: bool = False
    only: str = ""
    out: Path | None = None
    processes: int = 1


@dataclass(frozen=True)
class Outcome:
    """How one instance ended.

    Attributes
    ----------
    name, group
        The instance, and the line of the table it is counted in.
    value, bound
        What was reached, and what cannot be passed.
    reference
        The published figure to compare with; None if there is none.
    fill
        Share of the stock covered, 0 to 1.
    sound
        Whether the independent check accepts it.
    """

    name: str
    group: str
    value: float
    bound: float
    reference: float | None
    fill: float
    proven: bool
    seconds: float
    sound: bool


@dataclass(frozen=True)
class Suite:
    """A benchmark.

    Attributes
    ----------
    name, summary
        How it is called, and what it measures.
    instances
        Makes the instances for given settings; each is a value with a ``name``, and can be pickled.
    solve
        Solves one of them.
    conclusion
        The line of totals.
    """

    name: str
    summary: str
    instances: Callable[[Settings], Sequence[Any]]
    solve: Callable[[Any, Settings], Outcome]
    conclusion: Callable[[Sequence[Outcome]], str]


def accepted(outcomes: Sequence[Outcome]) -> str:
    """Say how many layouts the independent check accepts.

    Examples
    --------
    >>> accepted([Outcome("a", "class 1", 3, 3, 3, 0.9, True, 0.5, True)])
    '1 of 1 layouts accepted by the check'
    """
    return f"{sum(o.sound for o in outcomes)} of {len(outcomes)} layouts accepted by the check"


@dataclass(frozen=True)
class Instance:
    """A named packing problem of a benchmark: sizes, the stock, and the published figure."""

    name: str
    group: str
    sizes: tuple[tuple[float, float], ...]
    stock: tuple[float, float | None]
    reference: float | None = None
