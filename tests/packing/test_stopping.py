"""CP-SAT keeps within a stop."""

from ortools.sat.python import cp_model

from nesting.packing.cp import Answer, solve
from nesting.packing.stop import Stop


def pigeons(count: int) -> cp_model.CpModel:
    """Model one pigeon too many for its holes, without saying so."""
    model = cp_model.CpModel()
    sits = [[model.new_bool_var("") for _ in range(count)] for _ in range(count + 1)]
    for row in sits:
        model.add_bool_or(row)
    for hole in range(count):
        for i in range(count + 1):
            for j in range(i):
                model.add_bool_or(~sits[i][hole], ~sits[j][hole])
    return model


def test_answers_are_told_apart() -> None:
    """Found, proven impossible, and out of effort are three different answers."""
    easy = cp_model.CpModel()
    easy.new_bool_var("")
    assert solve(easy, Stop(effort=1.0), 1.0)[0] is Answer.FOUND
    assert solve(pigeons(3), Stop(effort=5.0), 5.0)[0] is Answer.NONE
    assert solve(pigeons(30), Stop(effort=1e-4), 1.0)[0] is Answer.UNKNOWN


def test_effort_is_spent() -> None:
    """What CP-SAT works counts against the effort."""
    stop = Stop(effort=5.0)
    solve(pigeons(6), stop, 5.0)
    assert 0 < stop.spent < 5.0


def test_cancelling_stops_the_solver() -> None:
    """A cancelled stop ends a search that would take its whole time."""
    asked = iter([False] * 3)
    stop = Stop(seconds=30.0, cancelled=lambda: next(asked, True))
    solve(pigeons(60), stop, 30.0, symmetry_level=0, cp_model_presolve=False)
    assert stop.elapsed < 20
