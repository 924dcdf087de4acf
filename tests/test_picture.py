"""What layouts and plans show of themselves in a notebook."""

from xml.etree import ElementTree

import pytest

import nesting
from tests.adapters.written_plan import renamed_plan, small_plan

SVG = "{http://www.w3.org/2000/svg}"


def test_a_layout_shows_every_sheet_and_item() -> None:
    """The drawing is well-formed and has a path for the sheet and one for each item."""
    items = [nesting.Item("coaster <b>", nesting.Footprint.circle(95), quantity=3)]
    layout = nesting.pack(items, [nesting.Sheet(310, 210)])
    tree = ElementTree.fromstring(layout._repr_svg_())
    assert len(tree.findall(f".//{SVG}path")) == 1 + 3
    assert [t.text for t in tree.findall(f".//{SVG}text")].count("coaster <b>") == 3


def test_a_load_is_drawn_with_its_blanks_and_marks() -> None:
    """The second load has three blanks under their pockets' numbers, and one path of all that is marked."""
    plan = small_plan()
    tree = ElementTree.fromstring(plan.drawn_load(2)._repr_svg_())
    assert [t.text for t in tree.findall(f".//{SVG}text")] == ["Load 2 on sheet A", "1", "3", "4"]
    *_, marked = (path.attrib["d"] for path in tree.findall(f".//{SVG}path"))
    # the star's ring and square, and the name, an open line
    assert (marked.count("M"), marked.count("Z")) == (3, 2)
    with pytest.raises(KeyError):
        plan.drawn_load(3)


def test_plans_sheets_and_loads_show_themselves() -> None:
    """A plan and its sheets draw the numbered pockets; a load lists its units; names stay text."""
    plan = renamed_plan("<script>")
    for shown in (plan._repr_svg_(), plan.sheets[0]._repr_svg_()):
        tree = ElementTree.fromstring(shown)
        assert [t.text for t in tree.findall(f".//{SVG}text")][1:] == ["1", "2", "3", "4"]
    assert plan.loads[0]._repr_html_().count("<tr>") == 1 + len(small_plan().loads[0].fillings)
    assert "<script>" not in plan.loads[0]._repr_html_()
