"""The clock of searches: it stands still while code is compiled, which a machine does once."""

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager


class Clock:
    """Seconds that count against a limit.

    Examples
    --------
    >>> clock = Clock()
    >>> clock.halt()
    >>> before = clock.now()
    >>> time.sleep(0.01)
    >>> clock.now() == before
    True
    """

    def __init__(self) -> None:
        self._halts, self._since, self._stood = 0, 0.0, 0.0
        self._told: list[Callable[[bool], object]] = []

    def now(self) -> float:
        """Seconds since some moment, without those for which the clock stood still."""
        return (self._since if self._halts else time.monotonic()) - self._stood

    def halt(self) -> None:
        """Stand still until as many calls of `go_on` have followed, also where a listener fails."""
        if not self._halts:
            self._since = time.monotonic()
        self._halts += 1
        if self._halts == 1:
            self._tell(halted=True)

    def go_on(self) -> None:
        """End a halt."""
        if self._halts == 1:
            self._stood += time.monotonic() - self._since
        self._halts -= 1
        if not self._halts:
            self._tell(halted=False)

    @contextmanager
    def telling(self, listener: Callable[[bool], object]) -> Iterator[None]:
        """Tell a listener when the clock is halted, and when it goes on, while the block runs."""
        self._told.append(listener)
        try:
            yield
        finally:
            self._told.remove(listener)

    def _tell(self, *, halted: bool) -> None:
        for listener in self._told:
            listener(halted)


CLOCK = Clock()
"""The one of this process: what one search compiles, all of them have."""
