"""Arcs that are no arcs: without a length, or too large to be drawn by lines."""

import pytest

from nesting.geometry.contour import Contour


def test_an_arc_without_a_length_is_left_out() -> None:
    """Two vertices at one place, bent or not, add nothing between them."""
    contour = Contour(((0, 0, 0), (5, 0, 1), (5, 0, 0), (5, 5, 0)))
    assert contour.flattened(0.01).tolist() == [[0, 0], [5, 0], [5, 0], [5, 5]]


@pytest.mark.parametrize("size", [1e9, 1e15])
def test_an_arc_beyond_all_measure_is_refused(size: float) -> None:
    """An arc that would take millions of lines is an error, one that floating point cannot cut up too."""
    with pytest.raises(ValueError, match="too large"):
        Contour(((0, 0, 1), (size, 0, 1))).flattened(0.001)
