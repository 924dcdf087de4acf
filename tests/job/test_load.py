import json
import math
import tomllib
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from nesting.errors import InputError
from nesting.examples import write_example
from nesting.geometry.drawing import Drawing
from nesting.job.document import JobDocument
from nesting.job.job import Job, OrderLine
from nesting.job.kinematics import Kinematics
from nesting.job.load import job_from, load_job

DOT = '<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="20mm"><rect width="9" height="9"/></svg>'


def small(**changes: Any) -> dict[str, Any]:
    """Make a small sound document, with some of its tables replaced."""
    document = {
        "title": "Small",
        "machine": {"bed": {"width": 300, "height": 200}, "kerf": {"plywood": 0.2}},
        "settings": [{"name": "wood"}],
        "stock": [sheet()],
        "blanks": [blank()],
        "orders": [{"blank": "plate", "quantity": 3}],
    }
    return {key: value for key, value in {**document, **changes}.items() if value is not None}


def sheet(**changes: Any) -> dict[str, Any]:
    outline = {"shape": "rectangle", "width": 300, "height": 200}
    return {"name": "sheet", "outline": outline, "thickness": 3, "material": "plywood", **changes}


def blank(**changes: Any) -> dict[str, Any]:
    footprint = {"shape": "rectangle", "width": 60, "height": 40}
    return {"name": "plate", "footprint": footprint, "height": 4, "setting": "wood", **changes}


def refused(document: dict[str, Any], folder: Path | str = ".") -> dict[str, str]:
    """Give what a document is refused for: message by place."""
    with pytest.raises(InputError) as caught:
        job_from(document, folder)
    return {problem.where: problem.message for problem in caught.value.problems}


def test_toml_json_and_values_in_memory_give_the_same_job(tmp_path: Path) -> None:
    """The same document means the same, whether it is TOML, JSON, a dict or a JobDocument."""
    write_example("first", tmp_path)
    source = tomllib.loads((tmp_path / "job.toml").read_text(encoding="utf-8"))
    (tmp_path / "job.json").write_text(json.dumps(source, default=str), encoding="utf-8")
    job = load_job(tmp_path / "job.toml")
    assert load_job(str(tmp_path / "job.json")) == job
    assert job_from(source, tmp_path) == job
    assert job_from(JobDocument.model_validate(source), tmp_path) == job
    assert job.orders[1].due == date(2026, 6, 5)


def test_lengths_take_the_unit_of_the_job_or_their_own() -> None:
    """Every length of a job in inches arrives in mm, also one that brings another unit (1 in = 25.4 mm)."""
    job = job_from(
        small(
            unit="in",
            web="5 mm",
            machine={"bed": {"width": 12, "height": "20 cm"}, "kerf": {"plywood": "0.2 mm"}},
            stock=[sheet(outline={"shape": "rectangle", "width": 10, "height": "180mm"}, thickness=0.25)],
            blanks=[blank(footprint={"shape": "circle", "diameter": 2}, height=0.5, gap=".1 in")],
        )
    )
    assert (job.machine.bed_width, job.machine.bed_height) == (304.8, 200.0)
    assert job.machine.kerf == {"plywood": 0.2}
    assert (job.stock[0].width, job.stock[0].height, job.stock[0].thickness) == (254.0, 180.0, 6.35)
    assert job.blanks[0].footprint.bounds == (-25.4, -25.4, 25.4, 25.4)
    assert (job.blanks[0].height, job.web) == (12.7, 5.0)
    assert job.blanks[0].gap == pytest.approx(2.54)


def test_what_is_left_out_has_the_documented_default() -> None:
    """A short document is filled up with defaults, the mark area 1 mm inside the footprint."""
    job = job_from(small())
    plate = job.blanks[0]
    assert (plate.gap, plate.clearance, plate.turns, plate.material) == (0, 0.3, (0, 90), None)
    assert plate.mark_area.bounds == pytest.approx((1, 1, 59, 39))
    assert (job.web, job.sheet_use, job.machine.origin) == (3, "reload", "front left")
    assert job.orders == (OrderLine("order 1", "plate", 3, source="orders[0]"),)


@pytest.mark.parametrize(
    ("shape", "area", "bounds"),
    [
        ({"shape": "rectangle", "width": 60, "height": 40}, 2400, (0, 0, 60, 40)),
        (
            {"shape": "rectangle", "width": 60, "height": 40, "radius": 5},
            2375 + 25 * math.pi - 75,
            (0, 0, 60, 40),
        ),
        ({"shape": "rectangle", "width": 60, "height": 40, "x": 5, "y": -5}, 2400, (5, -5, 65, 35)),
        ({"shape": "circle", "diameter": 50}, 625 * math.pi, (-25, -25, 25, 25)),
        ({"shape": "ellipse", "width": 60, "height": 20}, 300 * math.pi, (-30, -10, 30, 10)),
        ({"shape": "polygon", "points": [[0, 0], [30, 0], [0, 40]]}, 600, (0, 0, 30, 40)),
        ({"shape": "polygon", "points": [[0, 0], [0, 40], [30, 0], [0, 0]]}, 600, (0, 0, 30, 40)),
    ],
)
def test_each_shape_becomes_its_region(shape: dict[str, Any], area: float, bounds: tuple[float, ...]) -> None:
    """Area and extent of every shape are those of school geometry, also of one closed by its first point."""
    region = job_from(small(blanks=[blank(footprint=shape)])).blanks[0].footprint
    assert region.area == pytest.approx(area, rel=1e-3 if shape["shape"] == "ellipse" else 1e-9)
    assert region.bounds == pytest.approx(bounds, abs=0.011 if shape["shape"] == "ellipse" else 1e-9)


def test_holes_are_taken_out_of_the_footprint_and_the_mark_area_keeps_clear_of_them() -> None:
    """A tag loses the area of its hole, and an inset mark area the hole grown by the inset."""
    hole = {"shape": "circle", "diameter": 6, "x": 10, "y": 20}
    tag = job_from(small(blanks=[blank(holes=[hole], mark_area={"shape": "footprint", "inset": 2})])).blanks[
        0
    ]
    assert tag.footprint.area == pytest.approx(2400 - 9 * math.pi)
    assert tag.mark_area.area == pytest.approx(56 * 36 - 25 * math.pi)
    over = blank(holes=[hole], mark_area={"shape": "rectangle", "width": 30, "height": 30})
    assert list(refused(small(blanks=[over]))) == ["blanks[0].mark_area"]


def test_stock_lies_with_its_lower_left_corner_at_zero() -> None:
    """A sheet drawn elsewhere is shifted with its keep-outs; a plain rectangle needs no outline."""
    points = [[10, 20], [210, 20], [210, 60], [110, 60], [110, 120], [10, 120]]
    keep_out = {"shape": "circle", "diameter": 10, "x": 30, "y": 40}
    odd = sheet(name="odd", outline={"shape": "polygon", "points": points}, keep_outs=[keep_out], quantity=1)
    stock = job_from(small(stock=[sheet(), odd])).stock
    assert stock[0].outline is None
    assert stock[1].outline is not None
    assert stock[1].outline.bounds == (0, 0, 200, 100)
    assert (stock[1].width, stock[1].height, stock[1].quantity) == (200, 100, 1)
    assert stock[1].keep_outs[0].bounds == pytest.approx((15, 15, 25, 25))


def test_an_outline_file_gives_outline_and_holes(tmp_path: Path) -> None:
    """The largest closed line of a drawing is the outline, the others are holes, corner at (0, 0)."""
    drawing = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="80mm" height="60mm" viewBox="0 0 80 60">'
        '<circle cx="20" cy="30" r="3"/><rect x="10" y="10" width="50" height="40"/></svg>'
    )
    (tmp_path / "tag.svg").write_text(drawing, encoding="utf-8")
    job = job_from(small(blanks=[blank(footprint={"shape": "file", "file": "tag.svg"})]), tmp_path)
    footprint = job.blanks[0].footprint
    assert footprint.bounds == pytest.approx((0, 0, 50, 40), abs=1e-6)
    assert footprint.area == pytest.approx(2000 - 9 * math.pi, abs=0.1)
    assert footprint.holes[0].bounds == pytest.approx((7, 17, 13, 23), abs=0.01)


def test_an_order_may_name_a_drawing_by_its_path(tmp_path: Path) -> None:
    """A drawing named by several orders becomes one artwork that fills the mark area."""
    (tmp_path / "dot.svg").write_text(DOT, encoding="utf-8")
    orders = [{"blank": "plate", "quantity": 1, "artwork": "dot.svg"}] * 2
    job = job_from(small(orders=orders), tmp_path)
    assert [(artwork.name, artwork.fit) for artwork in job.artworks] == [("dot.svg", "inside")]
    assert isinstance(job.artworks[0].content, Drawing) and job.artworks[0].content.width == 40
    assert [order.artwork for order in job.orders] == ["dot.svg", "dot.svg"]


def test_an_order_list_is_read_with_its_own_column_names(tmp_path: Path) -> None:
    """Mapped columns are understood whatever their case; the others become texts, empty cells nothing."""
    rows = "Ref,Blank,Pieces,Name,Due\r\nA,plate,2,Ada,2026-06-01\r\n\r\n,plate,5,,\r\n"
    (tmp_path / "list.csv").write_text(rows, encoding="utf-8")
    order_list = {"file": "list.csv", "columns": {"line": "ref", "quantity": "PIECES"}}
    orders = job_from(small(orders=None, order_list=order_list), tmp_path).orders
    assert orders == (
        OrderLine("A", "plate", 2, (), {"name": "Ada"}, date(2026, 6, 1), source="list.csv, row 2"),
        OrderLine("row 4", "plate", 5, source="list.csv, row 4"),
    )


def test_orders_of_document_and_list_are_joined(tmp_path: Path) -> None:
    """A job may have order lines in both places; the document's come first."""
    (tmp_path / "list.csv").write_text("blank,quantity\nplate,7\n", encoding="utf-8")
    job = job_from(small(order_list={"file": "list.csv"}), tmp_path)
    assert [order.quantity for order in job.orders] == [3, 7]


def test_problems_of_document_and_list_come_together(tmp_path: Path) -> None:
    """What is wrong in the document and what is wrong in its order list is one error, the document first."""
    (tmp_path / "list.csv").write_text("blank,quantity\nplat,7\nplate,x\n", encoding="utf-8")
    document = small(order_list={"file": "list.csv"}, web=-1, orders=[{"blank": "plte", "quantity": 1}])
    assert list(refused(document, tmp_path)) == [
        "web",
        "orders[0].blank",
        "row 3, column quantity",
        "row 2, column blank",
    ]


def test_an_unknown_material_passes_once_acknowledged() -> None:
    """A material that is not on the list is taken when the job acknowledges it, one with chlorine never."""
    odd = small(blanks=[blank(material="Stone paste")])
    assert "add 'Stone paste' to acknowledged_materials" in refused(odd)["blanks[0].material"]
    assert job_from({**odd, "acknowledged_materials": ["stone paste"]}).blanks[0].material == "Stone paste"
    chlorine = small(blanks=[blank(material="soft vinyl")], acknowledged_materials=["soft vinyl"])
    assert "hydrogen chloride" in refused(chlorine)["blanks[0].material"]


def test_a_blank_that_fits_only_when_turned_is_taken() -> None:
    """A blank longer than the sheet is wide passes if one of its turns fits, and not otherwise."""
    long = {"shape": "rectangle", "width": 20, "height": 250}
    assert isinstance(job_from(small(blanks=[blank(footprint=long, turns=[90])])), Job)
    assert list(refused(small(blanks=[blank(footprint=long, turns=[0, 180])]))) == ["blanks[0].footprint"]


def test_a_link_out_of_the_folder_is_refused(tmp_path: Path) -> None:
    """A symbolic link to a file outside the job's folder is not followed, one inside it is."""
    inside = tmp_path / "job"
    inside.mkdir()
    (tmp_path / "out.svg").write_text(DOT, encoding="utf-8")
    (inside / "link.svg").symlink_to(tmp_path / "out.svg")
    document = small(artworks=[{"name": "dot", "file": "link.svg"}])
    assert "leads out of the job's folder" in refused(document, inside)["artworks[0].file"]
    (inside / "list.csv").write_text("blank,quantity\nplate,4\n", encoding="utf-8")
    (inside / "link.csv").symlink_to("list.csv")
    job = job_from(small(orders=None, order_list={"file": "link.csv"}), inside)
    assert job.orders[0].quantity == 4


def test_a_file_that_is_no_job_is_refused_by_name(tmp_path: Path) -> None:
    """A missing file, a folder, another ending, bytes that are no text: each is named and told apart."""
    (tmp_path / "folder.toml").mkdir()
    (tmp_path / "job.yaml").write_text("title: x", encoding="utf-8")
    (tmp_path / "latin.toml").write_bytes(b'title = "x"\n# caf\xe9\n')
    fragments = {
        "none.toml": "no such file",
        "folder.toml": "a folder",
        "job.yaml": "ending in .toml or .json",
        "latin.toml": "line 2: found the byte 0xe9",
        "folder.toml/..": "found a folder",
        "a" * 300 + ".toml": "cannot be read",
        "nul\0.toml": "no such file",
    }
    for name, fragment in fragments.items():
        with pytest.raises(InputError, match=fragment) as caught:
            load_job(tmp_path / name)
        assert caught.value.problems[0].file == str(tmp_path / name)


def test_a_list_is_no_job() -> None:
    """A document that is not a table is refused as a whole."""
    with pytest.raises(InputError, match="one table"):
        job_from([1, 2])  # type: ignore[arg-type]


def test_a_machine_states_how_it_moves() -> None:
    """Limits of the axes and a law for corners are taken over, the deviation in mm."""
    machine = small()["machine"]
    axes = {"axis_speeds": {"x": 600.0, "y": 300.0}, "axis_accelerations": {"x": 4000.0, "y": 900.0}}
    limited = job_from(small(machine={**machine, **axes, "junction_deviation": "0.1 cm"})).machine
    assert limited.kinematics == Kinematics(3000.0, (600.0, 300.0), (4000.0, 900.0), 1.0)
    jumping = job_from(small(machine={**machine, "velocity_jump": 12.0})).machine
    assert jumping.kinematics == Kinematics(velocity_jump=12.0)
    assert job_from(small()).machine.kinematics == Kinematics()


def test_how_a_machine_moves_may_be_wrong() -> None:
    """Half a pair of limits, limits of no size and two laws for corners are refused, all at once."""
    wrong = {"axis_speeds": {"x": 600.0}, "axis_accelerations": {"x": 0.0, "y": 900.0}}
    corners = {"junction_deviation": 0.05, "velocity_jump": 12.0}
    found = refused(small(machine={**small()["machine"], **wrong}))
    assert set(found) == {"machine.axis_speeds.y", "machine.axis_accelerations.x"}
    found = refused(small(machine={**small()["machine"], **corners}))
    assert "beside junction_deviation" in found["machine.velocity_jump"]


def test_a_lens_gives_the_machine_its_depth_of_focus() -> None:
    """Focal length and beam of the document, with their units, make the lens; without one 1 mm is assumed."""
    machine = small()["machine"]
    lens = {"focal_length": "2 in", "beam_diameter": 8, "beam_quality": 1.2, "depth_rule": "5 %"}
    read = job_from(small(machine={**machine, "lens": lens})).machine
    assert round(read.depth_of_focus, 5) == 0.41815
    assert job_from(small()).machine.depth_of_focus == 1.0
    wrong = {**lens, "beam_quality": 0.5, "depth_rule": "20 %"}
    found = refused(small(machine={**machine, "lens": wrong}))
    assert set(found) == {"machine.lens.beam_quality", "machine.lens.depth_rule"}


def test_notches_and_relief_of_corners_are_lengths() -> None:
    """Both arrive in mm; a relief that lies within the clearance is refused with what is allowed."""
    (made,) = job_from(small(blanks=[blank(notch="0.5 in", corner_relief=2)])).blanks
    assert (made.notch, made.corner_relief, made.reach) == (12.7, 2, 1)
    found = refused(small(blanks=[blank(clearance=0.5, corner_relief=1)]))
    assert list(found) == ["blanks[0].corner_relief"]
    assert "more than twice the clearance of 0.5 mm" in found["blanks[0].corner_relief"]


def test_marks_on_sheets_name_a_setting_and_a_font_of_lines() -> None:
    """The height arrives in mm; an unknown setting and a font of areas are refused."""
    made = job_from(small(sheet_marks={"setting": "wood", "size": "0.2 in"})).sheet_marks
    assert made is not None
    assert made.size == pytest.approx(5.08)
    assert made.setting == "wood"
    found = refused(small(sheet_marks={"setting": "wod", "font": "broad"}))
    assert sorted(found) == ["sheet_marks.font", "sheet_marks.setting"]


def test_spares_are_made_beyond_the_quantity() -> None:
    """A share of the quantity is rounded up, and counted as units of the line."""
    orders = [{**small()["orders"][0], "quantity": 50, "spares": "3 %"}]
    line = job_from(small(orders=orders)).orders[0]
    assert (line.quantity, line.spares) == (52, 2)
