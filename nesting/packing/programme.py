"""A linear programme, built row by row and solved by GLOP."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

_NOTHING = 1e-12

_MOST_STEPS = 50
"""Steps of the simplex algorithm for each variable and row, beyond any that solved programmes take."""

_WAYS = ("use_dual_simplex: true", "use_dual_simplex: true use_preprocessing: false use_scaling: false")
"""How to solve, one after the other: small programmes have been seen to go round for ever the first way."""


class Programme:
    """Minimises the cost of its variables, every row being at least its limit.

    Attributes
    ----------
    iterations
        What the last solution took, in steps of the simplex algorithm.
    prices
        What one more of each row's limit costs in the last solution.

    Examples
    --------
    >>> import math
    >>> programme = Programme()
    >>> x, y = programme.variable(0.0, 3.0, cost=2.0), programme.variable(0.0, math.inf, cost=3.0)
    >>> programme.row([x, y], [1.0, 1.0], at_least=5.0)
    >>> programme.solve().round(6).tolist()
    [3.0, 2.0]
    >>> programme.prices.tolist()
    [3.0]
    """

    def __init__(self) -> None:
        from ortools.linear_solver.linear_solver_pb2 import MPModelProto  # type: ignore[import-untyped]

        self.iterations = 0
        self.prices: NDArray[np.float64] = np.empty(0)
        self._model = MPModelProto()

    def variable(self, low: float, high: float, cost: float = 0.0) -> int:
        """Add a variable and give its number."""
        self._model.variable.add(lower_bound=low, upper_bound=high, objective_coefficient=cost)
        return len(self._model.variable) - 1

    def row(self, variables: Sequence[int], factors: Sequence[float], at_least: float) -> None:
        """Ask that a weighted sum of variables reaches a limit; factors of less than 1e-12 count as 0."""
        counted = [factor if abs(factor) > _NOTHING else 0.0 for factor in factors]
        self._model.constraint.add(var_index=variables, coefficient=counted, lower_bound=at_least)

    def solve(self, seconds: float | None = None) -> NDArray[np.float64] | None:
        """Give the values of all variables; None if there are none or `seconds` do not suffice."""
        from ortools.linear_solver import linear_solver_pb2, pywraplp  # type: ignore[import-untyped]

        most = _MOST_STEPS * (len(self._model.variable) + len(self._model.constraint))
        self.iterations = 0
        for way in _WAYS:
            solver = pywraplp.Solver.CreateSolver("GLOP")
            solver.LoadModelFromProto(self._model)
            # costs are never negative, so that the variables' lower bounds are a start for the dual
            solver.SetSolverSpecificParametersAsString(f"{way} max_number_of_iterations: {most}")
            if seconds is not None:
                solver.SetTimeLimit(int(1000 * seconds) + 1)
            status = solver.Solve()
            self.iterations += solver.iterations()
            if status != pywraplp.Solver.NOT_SOLVED:
                break
        if status != pywraplp.Solver.OPTIMAL:
            return None
        response = linear_solver_pb2.MPSolutionResponse()
        solver.FillSolutionResponseProto(response)
        self.prices = np.array(response.dual_value)
        return np.array(response.variable_value)
