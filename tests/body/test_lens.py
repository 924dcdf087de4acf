"""Spot and depth of focus, against tabled values."""

import pytest

from nesting.body.lens import Lens

TABLE = [
    (38.1, 6, 1, 85.7018, 0.54421, 1.08841, 0.34846),
    (38.1, 12, 1, 42.8509, 0.13605, 0.27210, 0.08712),
    (50.8, 6, 1, 114.2690, 0.96748, 1.93496, 0.61949),
    (50.8, 8, 1, 85.7018, 0.54421, 1.08841, 0.34846),
    (50.8, 8, 1.2, 102.8421, 0.65305, 1.30609, 0.41815),
    (50.8, 12, 1, 57.1345, 0.24187, 0.48374, 0.15487),
    (76.2, 8, 1, 128.5526, 1.22446, 2.44893, 0.78404),
    (76.2, 10, 1.2, 123.4105, 0.94039, 1.88078, 0.60214),
    (101.6, 8, 1, 171.4035, 2.17682, 4.35365, 1.39385),
    (101.6, 12, 1.2, 137.1228, 1.16097, 2.32195, 0.74339),
]
"""Focal length, beam, M², spot in µm, Rayleigh length, depth of focus for √2 5 % (handbook section 1)."""


@pytest.mark.parametrize(("f", "beam", "m2", "spot", "rayleigh", "twice", "five"), TABLE)
def test_tabled_spots_and_depths(
    f: float, beam: float, m2: float, spot: float, rayleigh: float, twice: float, five: float
) -> None:
    """Every row of the handbook's table comes out to the digits printed."""
    lens = Lens(f, beam, beam_quality=m2)
    assert round(lens.spot * 1000, 4) == spot
    assert round(lens.rayleigh_length, 5) == rayleigh
    assert round(lens.depth("rayleigh"), 5) == twice
    assert round(lens.depth("5 %"), 5) == five


@pytest.mark.parametrize(("rule", "share"), [("rayleigh", 2.0), ("5 %", 0.6403124), ("10 %", 0.9165151)])
def test_depths_as_shares_of_the_rayleigh_length(rule: str, share: float) -> None:
    """Each definition is its tabled share of the Rayleigh length (handbook section 1)."""
    lens = Lens(60, 7, depth_rule=rule)  # type: ignore[arg-type]
    assert round(lens.depth_of_focus / lens.rayleigh_length, 7) == share
    assert lens.growth(lens.depth_of_focus / 2) == pytest.approx(
        {"rayleigh": 2**0.5, "5 %": 1.05, "10 %": 1.1}[rule]
    )


@pytest.mark.parametrize(("away", "spot", "irradiance"), [(1, 188.0865, 0.298969), (2, 331.3257, 0.0963456)])
def test_defocus(away: float, spot: float, irradiance: float) -> None:
    """Spot and irradiance out of focus, f 50.8, D 8, M² 1.2 (handbook section 1)."""
    lens = Lens(50.8, 8, beam_quality=1.2)
    assert round(lens.spot_at(away) * 1000, 4) == spot
    assert float(f"{lens.irradiance_at(away):.6g}") == irradiance


def test_against_an_optics_maker() -> None:
    """About 85 µm at the best beam for a 5 in lens, of which k D³/f² (k 0.0187, from memory) is aberration.

    Outside source: the spot-size tutorial of an infrared optics maker, iiviinfrared.com/tutorials.
    """
    f = 127.0
    least = min(Lens(f, d / 10).spot + 0.0187 * (d / 10) ** 3 / f**2 for d in range(50, 500))
    assert round(least * 1000, 1) == pytest.approx(86.3, abs=0.1)
    assert least * 1000 == pytest.approx(85, abs=2)


def test_aberration_that_is_left_out() -> None:
    """For D ≤ 12, f ≥ 50.8 it is at most 12.5 µm: k D³/f², k 0.0187 from memory (handbook section 1)."""
    assert round(0.0187 * 12**3 / 50.8**2 * 1000, 1) == 12.5
    assert "0.0125 mm" in str(Lens.__doc__)


def test_depth_grows_with_the_square_of_the_focal_length() -> None:
    """A 4 in lens tolerates four times the height of a 2 in lens: the common rule of the trade."""
    assert Lens(101.6, 8).depth_of_focus / Lens(50.8, 8).depth_of_focus == pytest.approx(4)


@pytest.mark.parametrize(
    "wrong",
    [{"focal_length": 0}, {"beam_diameter": float("nan")}, {"beam_quality": 0.9}, {"depth_rule": "x"}],
)
def test_impossible_lenses_are_refused(wrong: dict[str, object]) -> None:
    """A lens that cannot be names what is wrong."""
    with pytest.raises(ValueError, match=next(iter(wrong))):
        Lens(**{"focal_length": 50.0, "beam_diameter": 8.0} | wrong)  # type: ignore[arg-type]
