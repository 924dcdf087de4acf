"""Compiling the loops of a search: once on a machine, and not in the time of the search.

Importing this module takes half a second, so that only modules of compiled code do.
"""

from collections.abc import Callable
from typing import Any, TypeVar, cast

import numba
from numba.core import event

from nesting.packing.clock import CLOCK

_F = TypeVar("_F", bound=Callable[..., Any])


def compiled(function: _F) -> _F:
    """Compile a function, and keep the machine code for the next process where the disk allows it."""
    return cast(_F, numba.njit(cache=True)(function))


class _Halting(event.Listener):
    """Halts the clock while numba compiles; machine code that is read from the disk is no such event."""

    def on_start(self, _: event.Event) -> None:
        CLOCK.halt()

    def on_end(self, _: event.Event) -> None:
        CLOCK.go_on()


event.register("numba:compile", _Halting())  # type: ignore[no-untyped-call]
