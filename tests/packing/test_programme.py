"""Linear programmes: right answers, and an end."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from nesting.packing.programme import Programme

Row = tuple[list[int], list[float], float]

_factors = st.sampled_from([-3.0, -1.0, -0.5, 0.0, 0.25, 1.0, 2.0, 1e-16, -1e-14])


@st.composite
def programmes(draw: st.DrawFn) -> tuple[list[tuple[float, float, float]], list[Row]]:
    """Draw variables with limits and costs, and rows each with a variable of its own that can satisfy it."""
    count = draw(st.integers(1, 5))
    variables = [
        (low, low + draw(st.integers(0, 9)), float(draw(st.integers(0, 4))))
        for low in draw(st.lists(st.integers(-5, 5), min_size=count, max_size=count))
    ]
    rows: list[Row] = []
    for k in range(draw(st.integers(1, 5))):
        factors = draw(st.lists(_factors, min_size=count, max_size=count))
        rows.append(([*range(count), count + k], [*factors, 1.0], float(draw(st.integers(-9, 9)))))
    return variables + [(0.0, math.inf, 10.0)] * len(rows), rows


def built(variables: list[tuple[float, float, float]], rows: list[Row]) -> Programme:
    """Write a programme down."""
    programme = Programme()
    for low, high, cost in variables:
        programme.variable(low, high, cost)
    for row in rows:
        programme.row(*row)
    return programme


def dual(variables: list[tuple[float, float, float]], rows: list[Row], prices: NDArray[np.float64]) -> float:
    """Bound the cost from below by prices of the rows, whatever they are (weak duality)."""
    left = np.array([cost for *_, cost in variables])
    for (names, factors, _), price in zip(rows, prices, strict=True):
        for name, factor in zip(names, factors, strict=True):
            left[name] -= price * factor
    bound = sum(price * limit for (*_, limit), price in zip(rows, prices, strict=True))
    for (low, high, _), cost in zip(variables, left, strict=True):
        bound += cost * low if cost > 0 or high == math.inf else cost * high
        assert cost > -1e-6 or high < math.inf
    return float(bound)


@settings(max_examples=200, deadline=None)
@given(programmes())
def test_solutions_keep_their_rows_and_cost_what_their_prices_say(
    programme: tuple[list[tuple[float, float, float]], list[Row]],
) -> None:
    """Every row holds, and no solution is cheaper, for the prices bound the cost from below by the same."""
    variables, rows = programme
    solved = built(variables, rows)
    found = solved.solve()
    assert found is not None
    for value, (low, high, _) in zip(found.tolist(), variables, strict=True):
        assert low - 1e-6 <= value <= high + 1e-6
    for names, factors, limit in rows:
        assert sum(found[name] * factor for name, factor in zip(names, factors, strict=True)) >= limit - 1e-6
    cost = sum(value * cost for value, (*_, cost) in zip(found.tolist(), variables, strict=True))
    assert (solved.prices >= -1e-9).all()
    assert dual(variables, rows, solved.prices) == pytest.approx(cost, abs=1e-5)


@pytest.mark.parametrize("tiny", [9.8e-17, 1.1e-12])
def test_a_tiny_factor_makes_no_programme_run_for_ever(tiny: float) -> None:
    """With it the simplex algorithm, as asked first, goes round without end."""
    limits = [
        (5, 9.29), (5, 9.29), (95, 103.57), (84.28, 92.86), (137.85, 146.43), (5, 9.29), (233, 241.56),
        (189.28, 195), (50.03, 54.32), (138.43, 143), (245, 250), (60.71, 69.29),
    ]  # fmt: skip
    variables = [(low, high, 0.0) for low, high in limits] + [(0.0, math.inf, 1000.0)] * 5
    rows: list[Row] = [
        ([8, 9, 0, 1, 12], [0.12, 0.99, -0.12, -0.99, 1], 146.03),
        ([6, 7, 2, 3, 13], [0, 1, 0, -1, 1], 105),
        ([8, 9, 2, 3, 14], [-1, tiny, 1, -tiny, 1], 48.03),
        ([10, 11, 2, 3, 15], [0.64, -0.77, -0.64, 0.77, 1], 114.41),
        ([10, 11, 4, 5, 16], [0, 1, 0, -1, 1], 61),
    ]
    solved = built(variables, rows)
    found = solved.solve()
    assert found is not None
    assert dual(variables, rows, solved.prices) == pytest.approx(1000 * float(found[12:].sum()), rel=1e-6)
