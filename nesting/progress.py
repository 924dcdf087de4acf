"""What a running plan tells about itself."""

from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a plan is.

    Attributes
    ----------
    stage
        What is being done, for a person to read.
    share
        Share of the whole done, 0 to 1, an estimate.
    best
        The best found so far and what no plan goes below, for a person to read; empty where there is
        nothing new.
    """

    stage: str
    share: float
    best: str = ""


Listener = Callable[[Progress], None]


def silent(_: Progress) -> None:
    """Listen to nothing."""
