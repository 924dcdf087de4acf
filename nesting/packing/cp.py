"""Running CP-SAT within a stop: reproducible under an effort, interruptible in any case."""

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from enum import Enum
from typing import TYPE_CHECKING, Any

from nesting.packing.stop import Stop

if TYPE_CHECKING:
    from ortools.sat.python import cp_model

_POLL_SECONDS = 0.05


class Answer(Enum):
    """What a search came to."""

    FOUND = "found"
    NONE = "proven that there is none"
    UNKNOWN = "not known in the time given"


def solve(
    model: "cp_model.CpModel", stop: Stop, most: float, seed: int = 1, **parameters: Any
) -> tuple[Answer, "cp_model.CpSolver"]:
    """Solve for at most `most` seconds or units of effort, with one worker.

    `parameters` are CP-SAT's own. An objective need not be proven optimal to count as found.
    """
    from ortools.sat.python import cp_model

    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    # its own handler of Ctrl-C would leave the default one behind, which ends the process
    solver.parameters.catch_sigint_signal = False
    solver.parameters.random_seed = seed % 2**31
    limit = min(most, stop.left)
    if stop.reproducible:
        solver.parameters.max_deterministic_time = limit
    else:
        solver.parameters.max_time_in_seconds = limit
    for name, value in parameters.items():
        setattr(solver.parameters, name, value)
    with _watched(solver, stop):
        status = solver.solve(model)
    stop.spend(solver.response_proto.deterministic_time)
    if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return Answer.FOUND, solver
    return (Answer.NONE if status == cp_model.INFEASIBLE else Answer.UNKNOWN), solver


@contextmanager
def _watched(solver: "cp_model.CpSolver", stop: Stop) -> Iterator[None]:
    """Stop the solver soon after a cancellation."""
    if stop.cancelled is bool:
        yield
        return
    done = threading.Event()

    def watch() -> None:
        while not done.wait(_POLL_SECONDS):
            if stop.cancelled():
                solver.stop_search()
                return

    watcher = threading.Thread(target=watch, daemon=True)
    watcher.start()
    try:
        yield
    finally:
        done.set()
        watcher.join()
