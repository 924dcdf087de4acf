"""When to stop: wall-clock time, or an effort that is the same on any machine."""

from collections.abc import Callable
from dataclasses import dataclass, field

from nesting.packing.clock import CLOCK


@dataclass
class Stop:
    """A running limit that engines ask and feed.

    Attributes
    ----------
    seconds
        Wall-clock limit; what is compiled on the way, once on a machine, does not count.
    effort
        The reproducible alternative: units of work, about a second of a desktop computer each. An
        engine counts its own work with `spend`; CP-SAT's share is its deterministic time.
    cancelled
        Asked now and then; answering True ends the search with the best so far.

    Examples
    --------
    >>> stop = Stop(effort=2.0)
    >>> stop.spend(1.5)
    >>> stop.reached, stop.left
    (False, 0.5)
    """

    seconds: float | None = None
    effort: float | None = None
    cancelled: Callable[[], bool] = bool
    spent: float = 0.0
    started: float = field(default_factory=CLOCK.now)

    def __post_init__(self) -> None:
        if (self.seconds is None) == (self.effort is None):
            raise ValueError("give either seconds or effort")

    @property
    def elapsed(self) -> float:
        """Wall-clock seconds since the start, without compiling."""
        return CLOCK.now() - self.started

    @property
    def left(self) -> float:
        """Seconds or units of effort left; 0 once cancelled."""
        if self.cancelled():
            return 0.0
        if self.effort is not None:
            return max(self.effort - self.spent, 0.0)
        return max((self.seconds or 0.0) - self.elapsed, 0.0)

    @property
    def share_used(self) -> float:
        """Share of the limit used up, 0 to 1."""
        limit = self.effort if self.effort is not None else self.seconds or 1.0
        return 1 - self.left / limit

    @property
    def reached(self) -> bool:
        """Whether the time is up, the effort spent, or the search cancelled."""
        return self.left <= 0

    @property
    def reproducible(self) -> bool:
        """Whether the limit is an effort."""
        return self.effort is not None

    def spend(self, effort: float) -> None:
        """Count work done."""
        self.spent += effort

    def part(self, share: float, least: float = 0.0) -> "Stop":
        """Make a limit of a share of what is left; count its `spent` in afterwards with `spend`.

        What is quickly done may have `least` seconds or units of effort even where less is left.
        """
        limit = max(self.left * share, least)
        if self.effort is not None:
            return Stop(effort=limit, cancelled=self.cancelled)
        return Stop(seconds=limit, cancelled=self.cancelled)
