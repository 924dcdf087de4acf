"""Reading SVG drawings: geometry against the standard and another renderer, paint, and refusals."""

import gzip
import math
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from nesting.errors import InputError
from nesting.geometry.contour import Arc
from nesting.geometry.drawing import Drawing
from nesting_adapters.svg_reader import SvgReader

BAD = Path(__file__).parent / "bad_svg"
HEAD = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
PAGE = HEAD + 'width="40mm" height="20mm" viewBox="0 0 40 20">'


def read(tmp_path: Path, body: str, page: str = PAGE) -> Drawing:
    file = tmp_path / "drawing.svg"
    file.write_text(f"{page}\n{body}\n</svg>", encoding="utf-8")
    return SvgReader().read(file)


def test_page_size_is_true_millimetres(tmp_path: Path) -> None:
    """96 px are 25.4 mm (W3C CSS Values and Units 3, section 6.2), and y points up from the page's foot."""
    drawing = read(tmp_path, '<rect width="48" height="24"/>', HEAD + 'width="192" height="96px">')
    assert (drawing.width, drawing.height) == pytest.approx((50.8, 25.4), abs=1e-9)
    assert drawing.bounds == pytest.approx((0, 19.05, 12.7, 25.4), abs=1e-8)


@pytest.mark.parametrize(
    ("length", "mm"),
    [
        ("1in", 25.4),
        ("2.54cm", 25.4),
        ("72pt", 25.4),
        ("6pc", 25.4),
        ("40Q", 10.0),
        ("96", 25.4),
        ("5mm", 5.0),
    ],
)
def test_absolute_units(tmp_path: Path, length: str, mm: float) -> None:
    """Every absolute unit of W3C CSS Values and Units 3, section 6.2, has its stated ratio."""
    drawing = read(tmp_path, f'<rect width="{length}" height="1mm"/>', HEAD + 'width="90mm" height="90mm">')
    assert drawing.bounds[2] == pytest.approx(mm, abs=1e-8)


def test_percentages_refer_to_the_view_box(tmp_path: Path) -> None:
    """SVG 2, section 8.9: x to its width, y to its height, a radius to the diagonal over root 2."""
    drawing = read(
        tmp_path, '<rect x="50%" y="50%" width="25%" height="25%"/><circle cx="20" cy="10" r="10%"/>'
    )
    assert drawing.shapes[0].contours[0].bounds == pytest.approx((20, 5, 30, 10), abs=1e-8)
    x0, _, x1, _ = drawing.shapes[1].contours[0].bounds
    assert (x1 - x0) / 2 == pytest.approx(0.1 * math.sqrt((40**2 + 20**2) / 2), abs=1e-8)


@pytest.mark.parametrize(
    ("ratio", "bounds"),
    [
        ("xMidYMid", (10, 0, 30, 20)),
        ("xMinYMax meet", (0, 0, 20, 20)),
        ("xMaxYMid", (20, 0, 40, 20)),
        ("none", (0, 0, 40, 20)),
    ],
)
def test_preserve_aspect_ratio(tmp_path: Path, ratio: str, bounds: tuple[float, ...]) -> None:
    """A square viewBox on a page twice as wide lies where SVG 2, section 8.6, puts it."""
    page = HEAD + f'width="40mm" height="20mm" viewBox="0 0 10 10" preserveAspectRatio="{ratio}">'
    assert read(tmp_path, '<rect width="10" height="10"/>', page).bounds == pytest.approx(bounds, abs=1e-8)


def test_circles_stay_arcs_under_a_similarity(tmp_path: Path) -> None:
    """A turned, scaled, mirrored circle has true arcs: its area is that of the formula."""
    body = '<circle r="2" transform="translate(20 10) rotate(33) scale(-2 2)"/>'
    contour = read(tmp_path, body).shapes[0].contours[0]
    assert all(bulge for _, _, bulge in contour.vertices)
    assert abs(contour.area) == pytest.approx(math.pi * 16, rel=1e-8)


def test_an_ellipse_made_round_by_its_transform_is_a_circle(tmp_path: Path) -> None:
    """What counts is the curve on the page, not the element's name."""
    contour = read(tmp_path, '<ellipse cx="5" cy="4" rx="4" ry="2" transform="scale(1 2)"/>').contours[0]
    assert abs(contour.area) == pytest.approx(math.pi * 16, rel=1e-8)


@pytest.mark.parametrize("flags", [(0, 0), (0, 1), (1, 0), (1, 1)])
def test_arc_commands_follow_both_flags(tmp_path: Path, flags: tuple[int, int]) -> None:
    """Radius, size and side of an arc follow the endpoint form of SVG 2, appendix B.2."""
    contour = read(tmp_path, f'<path d="M18 10 A 4 4 0 {flags[0]} {flags[1]} 22 10"/>').contours[0]
    arc = Arc.between(contour.vertices[0], contour.vertices[1])
    sweep = sum(4 * math.atan(bulge) for _, _, bulge in contour.vertices)
    assert arc.radius == pytest.approx(4, abs=1e-8)
    assert (abs(sweep) > math.pi) == bool(flags[0])
    assert (sweep < 0) == bool(flags[1])  # a positive angle runs clockwise on the page, so it does here


@given(
    a=st.floats(0.2, 3), turn=st.floats(-180, 180), skew=st.floats(-60, 60),
    x=st.floats(-50, 50), y=st.floats(-50, 50),
)  # fmt: skip
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_transforms_multiply(tmp_path: Path, a: float, turn: float, skew: float, x: float, y: float) -> None:
    """Nested transforms act like the product of 3 x 3 matrices of SVG 2, section 8.5, worked out here."""
    t, k = math.radians(turn), math.tan(math.radians(skew))
    matrices = [
        [[1, 0, x], [0, 1, y], [0, 0, 1]],
        [[math.cos(t), -math.sin(t), 0], [math.sin(t), math.cos(t), 0], [0, 0, 1]],
        [[1, k, 0], [0, 1, 0], [0, 0, 1]],
        [[a, 0, 0], [0, 2 * a, 0], [0, 0, 1]],
    ]
    body = (
        f'<g transform="translate({x!r},{y!r}) rotate({turn!r})">'
        f'<path transform="skewX({skew!r}) scale({a!r} {2 * a!r})" d="M1 2 L7 3 L4 9 Z"/></g>'
    )
    page = HEAD + 'width="400mm" height="400mm" viewBox="-200 -200 400 400">'
    corners = np.array([[1, 7, 4], [2, 3, 9], [1, 1, 1]])
    wanted = np.linalg.multi_dot([np.array(m, dtype=float) for m in matrices] + [corners.astype(float)])
    found = read(tmp_path, body, page).contours[0].points
    assert found == pytest.approx(np.column_stack([wanted[0] + 200, 200 - wanted[1]]), abs=1e-6)


def test_curves_are_flattened_within_a_hundredth(tmp_path: Path) -> None:
    """Every point of a Bezier curve, by its polynomial, lies within 0.01 mm of its lines."""
    from shapely import LineString, distance, points

    contour = read(tmp_path, '<path d="M2 18 C 2 -14 38 30 38 2" stroke="red" fill="none"/>').contours[0]
    t = np.linspace(0, 1, 2001)[:, None]
    poles = np.array([(2, 2), (2, 34), (38, -10), (38, 18)], dtype=float)  # y up
    curve = (
        (1 - t) ** 3 * poles[0] + 3 * (1 - t) ** 2 * t * poles[1] + 3 * (1 - t) * t**2 * poles[2]
    ) + t**3 * poles[3]
    assert distance(LineString(contour.points), points(curve)).max() <= 0.01


def test_smooth_and_relative_commands(tmp_path: Path) -> None:
    """A path in relative and smooth commands is the same as with every point written out."""
    short = read(tmp_path, '<path d="m2 10c2-6 6-6 8 0s6 6 8 0q2-4 4 0t4 0h2v2H2z"/>').contours[0]
    full = read(
        tmp_path,
        '<path d="M2,10 C4,4 8,4 10,10 C12,16 16,16 18,10 Q20,6 22,10 Q24,14 26,10 L28,10 L28,12 L2,12 Z"/>',
    ).contours[0]
    assert short.points == pytest.approx(full.points, abs=1e-9)


def test_copies_take_symbol_view_box_place_and_style(tmp_path: Path) -> None:
    """A symbol is fitted to the size that use states, moved by its x and y, and inherits its paint."""
    drawing = read(
        tmp_path,
        '<symbol id="s" viewBox="0 0 10 10"><rect width="10" height="10"/></symbol>'
        '<use xlink:href="#s" x="25" y="5" width="8" height="8" style="fill:none;stroke:red"/>',
    )
    (shape,) = drawing.shapes
    assert shape.contours[0].bounds == pytest.approx((25, 7, 33, 15), abs=1e-8)
    assert (shape.filled, shape.stroked) == (False, True)


@pytest.mark.parametrize(
    ("attributes", "sheet", "paint"),
    [
        ("", "", (True, False)),
        ('stroke="red"', "", (True, True)),
        ('fill="white"', "", (True, False)),
        ('fill="none" stroke="red"', "", (False, True)),
        ('fill="red" style="fill:none;stroke:red"', "", (False, True)),
        ('fill="red" stroke="red"', "rect{fill:none}", (False, True)),
        ('class="c" stroke="red"', "rect{fill:none}.c{fill:red}", (True, True)),
        ('class="c" id="i" stroke="red"', "#i{fill:none}.c{fill:red}", (False, True)),
        ('style="fill:red" stroke="red"', "rect{fill:none!important}", (False, True)),
        ('stroke="red" stroke-width="0"', "", (True, False)),
        ('stroke="red" fill-opacity="0"', "", (False, True)),
        ('stroke="red" fill="transparent"', "", (False, True)),
        ('stroke="red" fill="rgba(0,0,0,0)"', "", (False, True)),
        ('fill="rgb(0,0,0)"', "", (True, False)),
        ('fill="#ff000000" stroke="#f00"', "", (False, True)),
    ],
)
def test_paint_follows_the_cascade(
    tmp_path: Path, attributes: str, sheet: str, paint: tuple[bool, bool]
) -> None:
    """Fill and stroke follow CSS Cascading 4, section 6: sheets beat attributes, ids beat classes."""
    (shape,) = read(
        tmp_path, f'<style>{sheet}</style><rect x="9" y="9" width="4" height="4" {attributes}/>'
    ).shapes
    assert (shape.filled, shape.stroked) == paint


def test_what_is_not_rendered_is_left_out(tmp_path: Path) -> None:
    """Hidden, transparent and descriptive elements and foreign names leave no mark and no error."""
    drawing = read(
        tmp_path,
        '<title>cup</title><metadata><x xmlns="urn:x">y</x></metadata><x:y xmlns:x="urn:x"><x:z/></x:y>'
        '<g display="none"><text>no</text></g><g opacity="0"><rect width="1" height="1"/></g>'
        '<rect visibility="hidden" width="1" height="1"/><rect width="0" height="1"/>'
        '<rect width="3" height="3"><animate attributeName="x" to="9"/></rect>',
    )
    assert len(drawing.shapes) == 1


def test_line_width_grows_with_the_page(tmp_path: Path) -> None:
    """Line width is in mm on the page, and counts in the drawing's bounds."""
    drawing = read(tmp_path, '<g transform="scale(2)"><line x1="2" y1="5" x2="9" y2="5" stroke="red"/></g>')
    assert drawing.shapes[0].width == pytest.approx(2)
    assert drawing.bounds == pytest.approx((3, 9, 19, 11), abs=1e-8)


DRAWN = """<g fill-rule="evenodd"><path d="M5 5h12v10h-12z M8 7a3 3 0 1 1 4 4q-2 4-4 0z"/></g>
<g transform="translate(28 10) rotate(20) skewX(15)"><ellipse rx="6" ry="3"/></g>
<rect x="20" y="1" width="9" height="4" rx="1.5" transform="matrix(1 .1 -.1 1 2 -2)"/>"""


def test_another_renderer_sees_the_same(tmp_path: Path) -> None:
    """The picture rsvg-convert makes of a drawing agrees with ours, up to the pixels along the edges."""
    renderer = shutil.which("rsvg-convert")
    if renderer is None:
        pytest.skip("rsvg-convert is not installed")
    from shapely import Polygon, contains_xy, union_all
    from shapely.geometry.base import BaseGeometry

    image = pytest.importorskip("PIL.Image")
    drawing = read(tmp_path, DRAWN)
    target = tmp_path / "picture.png"
    command = [renderer, "-w", "800", "-h", "400", "-o", str(target), str(tmp_path / "drawing.svg")]
    subprocess.run(command, check=True, timeout=60)
    with image.open(target) as picture:
        theirs = np.array(picture)[:, :, 3] > 127
    shapes = []
    for shape in drawing.shapes:
        area: BaseGeometry = Polygon()
        for contour in shape.contours:  # even-odd: each ring flips what is inside
            area = area.symmetric_difference(Polygon(contour.flattened(0.005)))
        shapes.append(area)
    x, y = np.meshgrid((np.arange(800) + 0.5) / 20, 20 - (np.arange(400) + 0.5) / 20)
    ours = contains_xy(union_all(shapes), x, y)
    edge = sum(contour.length for contour in drawing.contours) * 20
    assert theirs.sum() > 20_000
    assert (ours != theirs).sum() < 0.1 * edge


BAD_FILES = {
    "bad_aspect_ratio": ("line 2, <svg>", "preserveAspectRatio 'middle'"),
    "bad_transform": ("line 2, <g>", "rotate() has 2 numbers"),
    "clip_path": ("line 3, <g>", "clip-path 'circle(3px)'"),
    "cut_off": ("line 4", "not XML"),
    "dashes": ("line 2, <path>", "below 0"),
    "deep": ("line 2", "nested deeper"),
    "doubling_use": ("<use>", "once copies (use) are counted"),
    "doubling_use_of_nothing": ("<use>", "once copies (use) are counted"),
    "empty": ("", "empty"),
    "entity_bomb": ("line 2", "entities"),
    "external_entity": ("line 2", "entities"),
    "far_away": ("line 2, <rect>", "beyond 100 m"),
    "filter": ("line 3, <rect>", "a filter"),
    "flat_transform": ("line 2, <rect>", "no area"),
    "font_unit": ("line 2, <rect>", "'4em'"),
    "foreign_object": ("line 2, <foreignObject>", "cannot be marked"),
    "geometry_in_style": ("line 2, <circle>", "r is given as a style"),
    "gradient": ("line 3, <rect>", "a gradient or pattern"),
    "image": ("line 2, <image>", "inside the file"),
    "marker": ("line 2, <path>", "a marker"),
    "mask": ("line 2, <rect>", "a mask"),
    "negative_radius": ("line 2, <rect>", "below 0"),
    "negative_width": ("line 2, <rect>", "below 0"),
    "no_namespace": ("line 1", "the root is <svg>"),
    "no_size": ("line 1, <svg>", "no size"),
    "not_xml": ("line 1", "not XML"),
    "nothing_drawn": ("line 1, <svg>", "nothing is filled or stroked"),
    "number_too_large": ("line 2, <line>", "out of range"),
    "odd_points": ("line 2, <polygon>", "7 numbers"),
    "other_root": ("line 1", "the root is <html>"),
    "outer_style_sheet": ("line 2", "another style sheet"),
    "outside_page": ("line 2, <rect>", "outside the page"),
    "path_nan": ("line 2, <path>", "'L nan 4'"),
    "path_odd_number": ("line 2, <path>", "wrong at '8'"),
    "path_overflow": ("line 2, <path>", "out of range"),
    "path_without_move": ("line 2, <path>", "M first"),
    "path_wrong_flag": ("line 2, <path>", "wrong at 'A"),
    "path_wrong_letter": ("line 2, <path>", "wrong at 'X 5 5'"),
    "percent_size": ("line 1, <svg>", "no size"),
    "script": ("line 2, <script>", "not run"),
    "self_use": ("line 3, <use>", "uses itself"),
    "short_view_box": ("line 1, <svg>", "four numbers"),
    "style_import": ("line 2, <style>", "@import"),
    "switch": ("line 2, <switch>", "more than one reading"),
    "text": ("line 3, <text id='name'>", "convert it to paths, or name a font"),
    "transform_with_units": ("line 2, <rect>", "'3mm'"),
    "undeclared_entity": ("line 3", "&shape;"),
    "unknown_element": ("line 2, <rectangle>", "cannot be marked"),
    "unknown_encoding": ("line 1", "no-such-code"),
    "unknown_fill_rule": ("line 2, <rect>", "'odd'"),
    "unknown_paint": ("line 2, <rect>", "'#12'"),
    "unknown_selector": ("line 2, <style>", "'g + rect'"),
    "unknown_unit": ("line 2, <circle>", "'3furlong'"),
    "use_of_nothing": ("line 2, <use>", "'#crest'"),
    "use_of_other_file": ("line 2, <use>", "'other.svg#crest'"),
    "use_ring": ("line 3, <use>", "uses itself"),
    "zero_size": ("line 1, <svg>", "0 or less"),
    "zero_view_box": ("line 1, <svg>", "above 0"),
}


@pytest.mark.parametrize("name", BAD_FILES)
def test_bad_file_is_refused_with_its_place(name: str) -> None:
    """Each damaged or hostile file is refused with the line, the element and what was found."""
    where, message = BAD_FILES[name]
    with pytest.raises(InputError) as caught:
        SvgReader().read(BAD / f"{name}.svg")
    problem = caught.value.problems[0]
    assert problem.file.endswith(f"{name}.svg")
    assert where in problem.where
    assert message in problem.message


def test_every_bad_file_is_in_the_table() -> None:
    """No file lies in the folder without its expectation, but the one with several problems."""
    assert {file.stem for file in BAD.glob("*.svg")} == {*BAD_FILES, "several"}


def test_all_problems_come_at_once() -> None:
    """Three wrong elements give three problems, in the order of the file."""
    with pytest.raises(InputError) as caught:
        SvgReader().read(BAD / "several.svg")
    assert [problem.where.split(",")[0] for problem in caught.value.problems] == [
        "line 2",
        "line 3",
        "line 4",
    ]


def test_files_that_are_no_plain_svg(tmp_path: Path) -> None:
    """Links, folders, absent, compressed and oversized files are refused before anything is parsed."""
    (tmp_path / "real.svg").write_text(PAGE + '<rect width="1" height="1"/></svg>')
    (tmp_path / "link.svg").symlink_to(tmp_path / "real.svg")
    (tmp_path / "folder.svg").mkdir()
    (tmp_path / "packed.svg").write_bytes(gzip.compress(b"<svg/>"))
    (tmp_path / "huge.svg").write_text(PAGE + " " * 20_000_000 + "</svg>")
    for name in ("link", "folder", "absent", "packed", "huge"):
        with pytest.raises(InputError):
            SvgReader().read(tmp_path / f"{name}.svg")


@pytest.mark.parametrize(
    ("body", "message"),
    [
        ('<path d="M0 0' + "L1 2" * 400_000 + '"/>', "too many lines"),
        ('<polygon points="' + "1,1 " * 300_000 + '"/>', "more than"),
        ('<path d="M0 0L' + "1" * 100_000 + '"/>', "wrong at"),
        ("<g/>" * 40_000, "more than 20000 elements"),
        ("<style>" + "rect,a{fill:red}" * 20_000 + "</style>", "style sheet of more than"),
        ("<style>" + "/*" * 90_000 + "</style>", "cannot read"),
        ('<rect width="1" height="1" fill="rgb(' + ",0" * 100_000 + '"/>', "not understood"),
        ('<g transform="' + "scale(1)" * 100_000 + '"/>', "more than 100 functions"),
        (
            '<clipPath id="c"><path d="M0 0'
            + "h1v1" * 2_000
            + 'z"/></clipPath>'
            + '<path clip-path="url(#c)" d="M1 1h1v1z"/>' * 100,
            "too many",
        ),
    ],
    ids=["points", "polygon", "digits", "elements", "rules", "comments", "paint", "transform", "clips"],
)
def test_excess_is_refused(tmp_path: Path, body: str, message: str) -> None:
    """What would take minutes or gigabytes is refused by its count."""
    with pytest.raises(InputError, match=message.replace("(", r"\(")):
        read(tmp_path, body)


FRAGMENTS = st.sampled_from(
    """<g> </g> <rect <path <circle <use href='#a' id='a' /> > d='M0 0 width='3' r='1e9' transform=' scale( )
    0 1 -5 nan 1e308 % mm ' " <style> </style> rect{fill:none} fill='url(#a)' <!-- --> & &#1; <![CDATA[ ]]>
    A Z C . é""".split()  # noqa: SIM905
)


@given(st.lists(FRAGMENTS, max_size=30))
@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_text_is_read_or_refused(tmp_path: Path, fragments: list[str]) -> None:
    """Scrambled markup gives a drawing or an InputError, never another exception."""
    try:
        drawing = read(tmp_path, " ".join(fragments))
    except InputError as error:
        assert error.problems
    else:
        assert drawing.shapes


PATHS = st.text("MLHVCSQTAZmlhvcsqtaz0123456789 .,-+e", max_size=40)


@given(PATHS)
@settings(max_examples=200, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_path_data_are_read_or_refused(tmp_path: Path, data: str) -> None:
    """Scrambled path data give a drawing or an InputError, never another exception."""
    try:
        read(tmp_path, f'<path d="M5 5{data}"/>')
    except InputError as error:
        assert error.problems
