"""Running CP-SAT within a stop."""

import signal

import pytest
from ortools.sat.python import cp_model

from nesting.packing.cp import Answer, solve
from nesting.packing.stop import Stop


def test_ctrl_c_still_raises_after_a_solve() -> None:
    """The solver leaves the program's own way of taking Ctrl-C as it was."""
    model = cp_model.CpModel()
    x = model.new_int_var(0, 3, "x")
    model.add(x >= 2)
    answer, solver = solve(model, Stop(seconds=5), 5)
    assert answer is Answer.FOUND and solver.value(x) >= 2
    with pytest.raises(KeyboardInterrupt):
        signal.raise_signal(signal.SIGINT)
