import pytest

from nesting.job.materials import is_chlorinated, is_known


@pytest.mark.parametrize(
    "material",
    ["plywood", "MDF", "acrylic", "cardboard", "veg-tanned leather", "cork", "solid oak", "slate", "glass",
     "anodised aluminium", "stainless steel", "ceramic", "paper", "wool felt",
     "3 mm birch plywood", "Walnut"],
)  # fmt: skip
def test_common_materials_are_known(material: str) -> None:
    """What shops mark every day needs no acknowledgement (common practice, no source)."""
    assert is_known(material)
    assert not is_chlorinated(material)


@pytest.mark.parametrize(
    "material",
    ["", "polycarbonate", "ABS", "foam", "leather", "chrome leather", "aluminium", "mild steel", "felt",
     "coated glass", "plywood with resin", "black", "imitation wood panel"],
)  # fmt: skip
def test_other_materials_need_a_word(material: str) -> None:
    """A plastic not listed, a metal that reflects, a coating or an unclear name is not known."""
    assert not is_known(material)


@pytest.mark.parametrize(
    "material",
    ["PVC", "pvc-u", "uPVC", "CPVC sheet", "Vinyl", "polyvinyl chloride", "vinyl coated plywood",
     "chlorinated rubber", "polychloroprene", "neoprene", "PVDC film"],
)  # fmt: skip
def test_chlorine_is_recognised(material: str) -> None:
    """Names that say chlorine are recognised, also as a part of a longer name."""
    assert is_chlorinated(material)
