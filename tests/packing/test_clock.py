"""The clock of searches stands still while code is compiled."""

import importlib
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from numba.core import event

from nesting.packing.clock import CLOCK, Clock
from nesting.packing.stop import Stop

COMPILING = """
import json, time
from nesting.packing.clock import CLOCK

began, counted, told = time.monotonic(), CLOCK.now(), []
with CLOCK.telling(told.append):
    from nesting.packing.compiled_fill import room
    room(1)
print(json.dumps([told, CLOCK.now() - counted, time.monotonic() - began]))
"""


class Watch:
    """Takes the place of the module `time`, and is moved by hand."""

    def __init__(self) -> None:
        self.seconds = 0.0

    def monotonic(self) -> float:
        return self.seconds


@pytest.fixture
def watch(monkeypatch: pytest.MonkeyPatch) -> Watch:
    made = Watch()
    monkeypatch.setattr("nesting.packing.clock.time", made)
    return made


def test_halts_do_not_count(watch: Watch) -> None:
    """Time passes only outside the outermost of the halts that lie in one another."""
    clock, seen = Clock(), []
    for halting in (clock.halt, clock.halt, clock.go_on, clock.go_on, clock.halt, clock.go_on):
        watch.seconds += 1
        halting()
        watch.seconds += 10
        seen.append(clock.now())
    assert seen == [1, 1, 1, 11, 12, 22]


def test_a_listener_is_told_of_each_halt_while_it_listens() -> None:
    """Halts within a halt are not told, nor what comes after the block."""
    clock, told = Clock(), list[bool]()
    with clock.telling(told.append):
        for halting in (clock.halt, clock.halt, clock.go_on, clock.go_on):
            halting()
    clock.halt()
    assert told == [True, False]


def test_a_listener_that_fails_does_not_stop_the_clock(watch: Watch) -> None:
    """Who is told that numba compiles may end the search with an error; the next search has its time."""
    importlib.import_module("nesting.packing.compiling")
    before = CLOCK.now()
    with (
        CLOCK.telling(lambda _: 1 / 0),
        pytest.raises(ZeroDivisionError),
        event.trigger_event("numba:compile"),
    ):
        pass
    watch.seconds += 5
    assert CLOCK.now() - before == 5


def test_a_limit_is_not_used_up_while_the_clock_stands(watch: Watch, monkeypatch: pytest.MonkeyPatch) -> None:
    """A limit of seconds has as much left after a halt as before."""
    clock = Clock()
    monkeypatch.setattr("nesting.packing.stop.CLOCK", clock)
    stop = Stop(seconds=10.0, started=clock.now())
    watch.seconds += 4
    clock.halt()
    watch.seconds += 60
    clock.go_on()
    watch.seconds += 1
    assert (stop.elapsed, stop.left, stop.reached) == (5, 5, False)


def test_compiling_halts_the_clock(tmp_path: Path) -> None:
    """What numba compiles for the first time takes no time of a search, and the next process is not told."""
    environment = os.environ | {"NUMBA_CACHE_DIR": str(tmp_path)}
    run = [sys.executable, "-c", COMPILING]
    first, second = (
        json.loads(subprocess.run(run, env=environment, check=True, capture_output=True).stdout)
        for _ in range(2)
    )
    told, counted, passed = first
    assert told[0] and not told[-1]
    assert counted < passed
    assert second[0] == []
