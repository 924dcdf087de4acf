"""SVG files, read back with readers that share nothing with the writer."""

import io
import math
import re
import xml.etree.ElementTree as ElementTree
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from svg.path import parse_path

from nesting.geometry.contour import Contour
from nesting.plan_values import Trace
from nesting_adapters.svg_path_data import path_data
from nesting_adapters.svg_writer import MOST_SWEEPS, SvgWriter
from tests.adapters.written_plan import renamed_plan, small_plan, with_sweeps

MICROMETRE = 0.001
SVG = "{http://www.w3.org/2000/svg}"
HEIGHT = 200.0


def _page(name: str) -> ElementTree.Element:
    return ElementTree.fromstring(SvgWriter().files(small_plan())[name])


def _group(page: ElementTree.Element, name: str) -> ElementTree.Element:
    return next(group for group in page.iter(f"{SVG}g") if group.get("id") == name)


def _paths(group: ElementTree.Element) -> list[ElementTree.Element]:
    return list(group.iter(f"{SVG}path"))


def _points_read(data: str) -> list[tuple[float, float]]:
    """Points along path data, y turned up again; arcs by svg.path's own arithmetic."""
    points = [segment.point(k / 8) for segment in parse_path(data) for k in range(9)]
    return [(point.real, HEIGHT - point.imag) for point in points]


def _distance(point: tuple[float, float], line: list[tuple[float, float]]) -> float:
    best = math.inf
    for (x0, y0), (x1, y1) in pairwise(line):
        dx, dy, px, py = x1 - x0, y1 - y0, point[0] - x0, point[1] - y0
        length = dx * dx + dy * dy
        along = 0.0 if length == 0 else min(max((px * dx + py * dy) / length, 0.0), 1.0)
        best = min(best, math.hypot(px - along * dx, py - along * dy))
    return best


def _fine(contour: Contour) -> list[tuple[float, float]]:
    points = [(float(x), float(y)) for x, y in contour.flattened(MICROMETRE / 5)]
    return points + points[:1] if contour.closed else points


def _assert_same(data: str, contours: list[Contour]) -> None:
    """Every point read lies on a contour, and every vertex of the contours is among the points read."""
    lines, read = [_fine(contour) for contour in contours], _points_read(data)
    assert max(min(_distance(point, line) for line in lines) for point in read) < MICROMETRE
    for x, y, _ in (vertex for contour in contours for vertex in contour.vertices):
        assert min(math.hypot(x - px, y - py) for px, py in read) < MICROMETRE


@settings(deadline=None)
@given(
    bulge=st.one_of(
        st.floats(-50, 50).filter(lambda bulge: abs(bulge) > 1e-7),
        st.sampled_from([1.0, -1.0, 0.9999999, 1.0000001]),
    ),
    x=st.floats(-500, 500),
    y=st.floats(-500, 500),
    chord=st.floats(0.05, 300),
)
def test_any_arc_is_read_back_within_a_micrometre(bulge: float, x: float, y: float, chord: float) -> None:
    """Half turns, whole turns almost, and shallow arcs all survive the rounding to four decimals."""
    contour = Contour(((x, y, bulge), (x + chord * 0.6, y + chord * 0.8, 0.0)), closed=False)
    if not contour.length < 2000:
        return
    _assert_same(path_data(contour, HEIGHT), [contour])


def test_a_hardly_bent_stretch_is_a_line() -> None:
    """An arc that leaves its chord by less than the decimals show has no radius of astronomic length."""
    assert path_data(Contour(((0, 0, 1e-30), (30, 0, 1e-30), (30, 40, 1e-30)))) == "M0 0L30 0L30 -40Z"


def test_a_nearly_straight_arc_is_read_back_within_a_micrometre() -> None:
    """Arcs with radii of tens of metres to hundreds of kilometres keep within 1 µm, as lines if need be."""
    for chord in (1.0, 30.0, 254.0, 300.0):
        for exponent in range(-14, -8):
            contour = Contour(((0, 0, 2.0**exponent / chord), (chord * 0.6, chord * 0.8, 0)), closed=False)
            _assert_same(path_data(contour, HEIGHT), [contour])
    for bulge in (1e-6, 3e-6, 4e-6):
        contour = Contour(((3, 7, bulge), (3 + 254 * 0.6, 7 + 254 * 0.8, 0)), closed=False)
        _assert_same(path_data(contour, HEIGHT), [contour])


def test_the_page_is_in_true_size() -> None:
    """Width and height are in mm and equal the viewBox (W3C SVG 2, section 8.2), so one unit is 1 mm."""
    for name in SvgWriter().files(small_plan()):
        root = _page(name).attrib
        assert (root["width"], root["height"], root["viewBox"]) == ("300mm", "200mm", "0 0 300 200")


def test_pocket_paths_are_the_plans_in_cutting_order() -> None:
    """The beam paths come in the cut path's order, start where its steps say, and lie within 1 µm."""
    sheet = small_plan().sheets[0]
    paths = _paths(_group(_page("sheet-A-pockets.svg"), "pocket-paths"))
    assert [path.get("data-pocket") for path in paths] == ["3", "4", "2", "1"]
    assert [path.get("data-order") for path in paths] == ["1", "2", "3", "4"]
    for path, step in zip(paths, sheet.cut_path.steps, strict=True):
        contour = sheet.pockets[step.pocket - 1].path[step.part]
        _assert_same(path.attrib["d"], [contour])
        start, first = contour.vertices[step.start], _points_read(path.attrib["d"])[0]
        assert math.hypot(start[0] - first[0], start[1] - first[1]) < MICROMETRE


def test_a_backward_step_turns_the_path_round() -> None:
    """Pocket 4 is run backwards: its signed area changes sign against the plan's contour."""
    sheet = small_plan().sheets[0]
    path = _paths(_group(_page("sheet-A-pockets.svg"), "pocket-paths"))[1]
    points = _points_read(path.attrib["d"])
    area = sum(a[0] * b[1] - b[0] * a[1] for a, b in pairwise([*points, points[0]])) / 2
    assert area < 0 < sheet.pockets[3].path[0].area


def test_round_pockets_stay_arcs() -> None:
    """A round pocket is written with arc commands of its radius, kerf taken off, and no other."""
    path = _paths(_group(_page("sheet-A-pockets.svg"), "pocket-paths"))[3]
    assert set(re.findall("[A-Za-z]", path.attrib["d"])) == {"M", "A", "Z"}
    assert set(re.findall(r"A(\S+ \S+) ", path.attrib["d"])) == {"30.15 30.15"}


def test_marks_lie_where_their_units_do() -> None:
    """Each marked part, moved with its pocket's place and turn, is read back within 1 µm, in order."""
    plan = small_plan()
    load, pockets = plan.loads[0], {pocket.number: pocket for pocket in plan.sheets[0].pockets}
    markings = {filling.pocket: filling.marking for filling in load.fillings}
    paths = _paths(_group(_page("load-01-marks.svg"), "marks"))
    assert len(paths) == len(load.mark_path.steps)
    for path, step in zip(paths, load.mark_path.steps, strict=True):
        pocket, part = pockets[step.pocket], plan.marking(markings[step.pocket] or "").parts[step.part]
        _assert_same(path.attrib["d"], [c.moved(pocket.x, pocket.y, pocket.turn) for c in part.contours])
        assert (path.get("fill-rule"), path.get("stroke")) == (
            ("evenodd", "none") if part.kind == "fill" else (None, None)
        )


def test_units_are_named_in_marking_order() -> None:
    """Each unit is a group that says pocket, order line and unit; an unmarked unit has none."""
    units = [group for group in _group(_page("load-02-marks.svg"), "marks") if group.get("data-unit")]
    found = [(group.get("data-pocket"), group.get("data-line"), group.get("data-unit")) for group in units]
    assert found == [("3", "O-2", "3"), ("1", "O-1", "3")]


def test_an_open_line_run_backwards_starts_at_its_end() -> None:
    """A backward step of a line begins at the contour's last vertex."""
    plan = small_plan()
    pocket, part = plan.sheets[0].pockets[2], plan.markings[1].parts[0]
    x, y, _ = part.contours[0].moved(pocket.x, pocket.y, pocket.turn).vertices[-1]
    path = next(p for p in _paths(_group(_page("load-01-marks.svg"), "marks")) if p.get("id") == "mark-3-1")
    first = _points_read(path.attrib["d"])[0]
    assert math.hypot(x - first[0], y - first[1]) < MICROMETRE


def test_sweeps_are_hidden_and_in_running_order() -> None:
    """The sweeps are in a group not displayed; a fill run backwards starts where its last one ends."""
    group = _group(_page("load-01-marks.svg"), "sweeps")
    assert group.get("display") == "none"
    forwards, backwards = (
        next(p for p in _paths(group) if p.get("id") == f"sweeps-{pocket}-1").attrib["d"] for pocket in (1, 2)
    )
    assert _points_read(forwards)[0] == pytest.approx((45 - 9, 150 - 4))
    assert _points_read(backwards)[0] == pytest.approx((125 - 9, 150 + 3))
    assert len(re.findall("M", forwards)) == 8


def test_many_sweeps_are_left_out() -> None:
    """Above the stated number the group is empty, so that the file stays small."""
    page = ElementTree.fromstring(SvgWriter().files(with_sweeps(MOST_SWEEPS))["load-01-marks.svg"])
    assert _paths(_group(page, "sweeps")) == []


def test_reference_shows_sheet_keep_out_and_blanks() -> None:
    """What is not to be marked has a group of its own with the sheet, its keep-outs and every blank."""
    names = [path.get("id") for path in _paths(_group(_page("load-02-marks.svg"), "reference"))]
    assert names == ["sheet-outline", "keep-out-1", "blank-1", "blank-3", "blank-4"]


def test_ids_are_unique_and_hostile_names_stay_text() -> None:
    """Whatever a user calls things, a file stays well-formed, its ids differ and nothing becomes markup."""
    for content in SvgWriter().files(renamed_plan("\"'><script>&\u202e\x00\x1b\n")).values():
        page = ElementTree.fromstring(content)
        ids = [element.get("id") for element in page.iter() if element.get("id")]
        assert len(ids) == len(set(ids))
        assert not list(page.iter(f"{SVG}script"))
        assert "<script>&" in (page.findtext(f"{SVG}title") or "")


def test_an_independent_renderer_draws_the_pockets() -> None:
    """CairoSVG renders the page at 96 px an inch with dark pixels on a pocket's outline, none amid it."""
    cairosvg = pytest.importorskip("cairosvg", reason="the renderer is not installed")
    image = pytest.importorskip("PIL.Image")
    png = cairosvg.svg2png(
        SvgWriter().files(small_plan())["sheet-A-pockets.svg"], scale=4, background_color="white"
    )
    picture = image.open(io.BytesIO(png)).convert("L")
    scale = 96 / 25.4 * 4
    assert picture.width == pytest.approx(300 * scale, abs=2)

    def darkest(x: float, y: float) -> int:
        left, top = round(x * scale) - 3, round((HEIGHT - y) * scale) - 3
        return int(picture.crop((left, top, left + 6, top + 6)).getextrema()[0])

    assert darkest(45 + 30.15, 150) < 128
    assert darkest(45, 150 - 30.15) < 128
    assert darkest(45 + 20, 150) > 250


def test_a_trace_is_hidden() -> None:
    """The line to follow with the beam off is in a group not displayed, and only where there is one."""
    plan = small_plan()
    trace = Trace(((1.0, 1.0), (200.0, 1.0), (200.0, 100.0)), 2.0)
    files = SvgWriter().files(replace(plan, sheets=(replace(plan.sheets[0], trace=trace),)))
    group = _group(ElementTree.fromstring(files["sheet-A-pockets.svg"]), "trace")
    assert group.get("display") == "none"
    assert _paths(group)[0].attrib["d"] == "M1 199L200 199L200 100Z"
    assert b'id="trace"' not in files["load-01-marks.svg"]
