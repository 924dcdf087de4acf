"""A frustum on the bed: closed figures against tabled values, and what is worked out in general."""

import math

import numpy as np
import pytest

from nesting.body.body import Turned
from nesting.body.frustum import Frustum
from nesting.body.rest import level_shim, rest
from nesting.body.seat import seat, silhouette
from nesting.body.surface import top

KINDS = {
    "45/35, 200, 6": ((45, 35, 200), 6),
    "45/35, 200, 3": ((45, 35, 200), 3),
    "45/35, 160, 6": ((45, 35, 160), 6),
    "44/30.5, 170, 9": ((44, 30.5, 170), 9),
}
TABLE = {
    "taper": (2.862405, 2.862405, 3.576334, 4.540431),
    "slant": (200.249844, 200.249844, 160.312195, 170.535187),
    "chord, small end": (39.214011, 28.371805, 39.226465, 43.322859),
    "chord, middle": (42.166794, 30.415609, 42.180373, 48.625098),
    "chord, big end": (44.925920, 32.330468, 44.940540, 53.403466),
    "section area": (8437.445497, 6086.426531, 6756.863579, 8277.481069),
    "shadow length": (200.549844, 200.399844, 160.687195, 171.249893),
    "plan length": (203.745477, 203.745477, 164.678675, 175.364102),
    "big-end top": (89.887710, 89.887710, 89.824732, 87.723831),
    "small-end top": (69.912664, 69.912664, 69.863680, 60.808565),
    "crown slope": (5.724810, 5.724810, 7.152669, 9.080861),
    "level shim": (19.975047, 19.975047, 19.961052, 26.915266),
    "top (G/2, 10)": (79.032211, 79.032211, 79.202904, 73.846060),
}
"""Handbook section 2, frustum resting on a generator; chords are those at the ends of the section."""


def figures(cup: Frustum, t: float) -> dict[str, float]:
    back = t * math.tan(math.radians(cup.taper))
    return {
        "taper": cup.taper,
        "slant": cup.slant,
        "chord, small end": 2 * cup.half_width(-back, t),
        "chord, middle": 2 * cup.half_width(cup.slant / 2 - back, t),
        "chord, big end": 2 * cup.half_width(cup.slant - back, t),
        "section area": cup.section_area(t),
        "shadow length": cup.shadow_length(t),
        "plan length": cup.plan_length,
        "big-end top": cup.crown_end(cup.large),
        "small-end top": cup.crown_end(cup.small),
        "crown slope": cup.crown_slope,
        "level shim": cup.level_shim,
        "top (G/2, 10)": cup.top(cup.slant / 2, 10),
    }


@pytest.mark.parametrize("figure", TABLE)
@pytest.mark.parametrize("kind", KINDS)
def test_tabled_figures(kind: str, figure: str) -> None:
    """Every value of the handbook's table of frusta comes out to the digits printed."""
    sizes, t = KINDS[kind]
    wanted = TABLE[figure][list(KINDS).index(kind)]
    assert round(figures(Frustum(*sizes), t)[figure], 6) == wanted


@pytest.mark.parametrize("kind", KINDS)
def test_the_general_solid_agrees(kind: str) -> None:
    """Rest, seat, silhouette and surface, worked out for any body, have the closed figures of a frustum."""
    (large, small, length), t = KINDS[kind]
    cup, body = Frustum(large, small, length), Turned.tapered(2 * small, 2 * large, length)
    pose = rest(body)
    x0, _, x1, _ = silhouette(body, pose).bounds
    assert x1 - x0 == pytest.approx(cup.plan_length, abs=0.021)
    hole = seat(body, pose, t)
    assert hole is not None
    assert hole.bounds[2] - hole.bounds[0] == pytest.approx(cup.shadow_length(t), abs=0.021)
    lean = math.sin(math.radians(cup.taper))
    contact = np.array([0.0, cup.slant / 2, cup.slant - 1e-6]) + 2 * small * lean
    heights = top(body, pose, contact[1:2], np.array([10.0]))
    assert heights[0] == pytest.approx(cup.top(cup.slant / 2, 10), abs=1e-9)
    assert level_shim(body) == pytest.approx(cup.level_shim)
    raised = rest(body, shim=cup.level_shim)
    crown = top(body, raised, np.array([40.0, length / 2]), np.zeros(2))
    assert crown[0] == pytest.approx(crown[1], abs=1e-9)


@pytest.mark.parametrize(
    ("radius", "t", "width"),
    [(37.5, 3, 29.393877), (37.5, 6, 40.693980), (37.5, 9, 48.744230), (45, 6, 44.899889), (45, 9, 54.0),
     (5.5, 3, 9.797959), (5.5, 6, 11.0)],
)  # fmt: skip
def test_seats_of_cylinders(radius: float, t: float, width: float) -> None:
    """The seat of a cylinder is its chord at the sheet's face, or its diameter (handbook section 2)."""
    body = Turned.cylinder(2 * radius, 120)
    hole = seat(body, rest(body), t)
    assert hole is not None
    assert hole.is_rectangle
    assert round(hole.bounds[3] - hole.bounds[1], 6) == width


@pytest.mark.parametrize(
    ("radius", "t", "width", "bottom"),
    [(37.5, 6, 30, 2.869318), (37.5, 6, 40, 0.221444), (5.5, 3, 8, 1.274917), (37.5, 6, 41, 0.0)],
)
def test_cylinders_on_the_edges_of_a_pocket(radius: float, t: float, width: float, bottom: float) -> None:
    """A pocket narrower than the seat carries the cylinder on its edges (handbook section 2)."""
    assert round(rest(Turned.cylinder(2 * radius, 90), t, width).axis - radius, 6) == bottom


@pytest.mark.parametrize(
    ("width", "tilt", "highest"),
    [(44, 2.937690, 90.144849), (42, 3.093327, 90.675941), (40, 3.247008, 91.199700)],
)
@pytest.mark.parametrize("turned", [False, True])
def test_frusta_in_narrow_slots(width: float, tilt: float, highest: float, turned: bool) -> None:
    """Tilt and top of 45/35, 200, in slots through 6 mm, whichever way round (handbook section 2)."""
    sizes = (90, 70) if turned else (70, 90)
    pose = rest(Turned.tapered(*sizes, 200), 6, width)
    assert round(abs(pose.tilt), 6) == tilt
    rim = pose.height_at(0 if turned else 200) + 45 * math.cos(math.radians(tilt))
    assert rim == pytest.approx(highest, abs=2e-6)


def test_contact_in_a_slot_need_not_be_at_the_big_rim() -> None:
    """45/35, 200, in a slot of 40 mm through 6 mm lies on its edges at s = 146.5957 (handbook section 2)."""
    pose = rest(Turned.tapered(70, 90, 200), 6, 40)
    s = np.linspace(0, 200, 2_000_001)
    depth = (pose.axis + s * math.sin(math.radians(pose.tilt)) - 6) / math.cos(math.radians(pose.tilt))
    half = np.sqrt((35 + s / 20) ** 2 - depth**2)
    assert half.max() == pytest.approx(20, abs=1e-9)
    # at its flat top the width tells the place no finer than this
    assert s[half.argmax()] == pytest.approx(146.5957, abs=2e-4)


@pytest.mark.parametrize("kind", KINDS)
def test_straight_sides_would_be_too_narrow(kind: str) -> None:
    """A trapezoid is up to 0.13 mm a side too narrow at mid-length (handbook section 2)."""
    chords = [
        TABLE[f"chord, {where}"][list(KINDS).index(kind)] / 2 for where in ("small end", "middle", "big end")
    ]
    short = chords[1] - (chords[0] + chords[2]) / 2
    assert 0 < round(short, 2) <= 0.13


def test_a_slot_narrower_than_the_small_end_does_not_seat_it() -> None:
    """The small rim stays on the bed only in a slot as wide as its own chord (handbook section 2)."""
    with pytest.raises(ValueError, match=r"39\.21 mm or more"):
        rest(Turned.tapered(70, 90, 200), 6, 39)


def test_length_of_crown_in_focus() -> None:
    """At 2.86 degrees only 9.975 mm of crown stay within 1 mm (handbook section 2)."""
    assert round(Frustum(45, 35, 200).crown_in_focus(1), 3) == 9.975


def test_development_of_the_side() -> None:
    """The side laid flat is a sector: its arcs are as long as the rims, its radii differ by the slant."""
    cup = Frustum(45, 35, 200)
    inner, outer, angle = cup.development
    assert outer - inner == pytest.approx(cup.slant)
    assert math.radians(angle) * outer == pytest.approx(2 * math.pi * 45)
