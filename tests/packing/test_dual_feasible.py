"""Dual feasible functions do what their name says."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from nesting.packing.dual_feasible import values


@given(
    size=st.integers(2, 60),
    lengths=st.lists(st.integers(1, 60), min_size=1, max_size=9),
    times=st.lists(st.integers(1, 3), min_size=9, max_size=9),
    data=st.data(),
)
def test_what_fits_has_values_of_one_at_most(
    size: int, lengths: list[int], times: list[int], data: st.DataObject
) -> None:
    """Lengths that share the size, each no more often than there are, have values of 1 at most together."""
    lengths = [min(length, size) for length in lengths]
    table = values(np.array(lengths), size, np.array(times[: len(lengths)]))
    chosen = np.array([data.draw(st.integers(0, most)) for most in times[: len(lengths)]])
    if (chosen * lengths).sum() <= size:
        assert (table @ chosen).max() <= 1 + 1e-9
    assert table.min() >= 0
