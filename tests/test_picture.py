"""What layouts and plans show of themselves in a notebook."""

from xml.etree import ElementTree

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


def test_plans_sheets_and_loads_show_themselves() -> None:
    """A plan and its sheets draw the numbered pockets; a load lists its units; names stay text."""
    plan = renamed_plan("<script>")
    for shown in (plan._repr_svg_(), plan.sheets[0]._repr_svg_()):
        tree = ElementTree.fromstring(shown)
        assert [t.text for t in tree.findall(f".//{SVG}text")][1:] == ["1", "2", "3", "4"]
    assert plan.loads[0]._repr_html_().count("<tr>") == 1 + len(small_plan().loads[0].fillings)
    assert "<script>" not in plan.loads[0]._repr_html_()
