"""Flat things on bent surfaces, against tabled values."""

import numpy as np
import pytest

from nesting.body.bend import arc, in_focus_half_width, incidence
from nesting.body.body import Turned
from nesting.body.rest import rest
from nesting.body.surface import top


def sagitta(radius: float, width: float) -> float:
    """Fall of the upper surface from the crown of a cylinder to the edges of a strip."""
    body = Turned.cylinder(2 * radius, 100)
    crown, edge = top(body, rest(body), np.full(2, 50.0), np.array([0.0, width / 2]))
    return float(crown - edge)


@pytest.mark.parametrize(
    ("radius", "width", "fall", "length", "angle"),
    [
        (37.5, 20, 1.357919, 20.24496, 15.4660),
        (37.5, 40, 5.778556, 42.19022, 32.2310),
        (45, 30, 2.573593, 30.58532, 19.4712),
        (5.5, 10, 3.208712, 12.55206, 65.380),
    ],
)
def test_sagitta_arc_and_incidence(
    radius: float, width: float, fall: float, length: float, angle: float
) -> None:
    """Every row of the handbook's table (section 2, sagitta) comes out to the digits printed."""
    assert round(sagitta(radius, width), 6) == fall
    assert round(arc(radius, width), 5) == length
    assert round(incidence(radius, width), 4 if angle != 65.380 else 3) == angle


@pytest.mark.parametrize(
    ("radius", "depth", "middle", "crown"), [(37.5, 2, 12.083046, 8.602325), (5.5, 1, 3.162278, 2.291288)]
)
def test_width_in_focus(radius: float, depth: float, middle: float, crown: float) -> None:
    """In-focus half-widths with the focus at mid-depth and on the crown (handbook section 2)."""
    assert round(in_focus_half_width(radius, depth), 6) == middle
    assert round(in_focus_half_width(radius, depth, "crown"), 6) == crown
    assert sagitta(radius, 2 * middle) == pytest.approx(depth, abs=1e-5)
