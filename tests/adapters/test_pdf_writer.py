"""PDF files, read back by pypdf; the drawing operators are followed as ISO 32000-1 defines them."""

import math
import re
from dataclasses import replace
from io import BytesIO
from typing import Any

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray

from nesting.errors import InputError
from nesting.geometry.contour import Contour
from nesting.plan_values import Plan
from nesting.plug_in_options import with_options
from nesting_adapters.pdf_page import PAPERS_MM, wrapped
from nesting_adapters.pdf_template import FOOT, tiling
from nesting_adapters.pdf_writer import PdfWriter
from nesting_adapters.report import cautions
from tests.adapters.written_plan import renamed_plan, small_plan, with_sheet_marks

pypdf: Any = pytest.importorskip("pypdf", reason="pypdf is not installed")
pytest.importorskip("reportlab", reason="the extra pdf is not installed")

Points = NDArray[np.float64]

MM = 72 / 25.4


def _read(name: str, plan: Plan | None = None, **options: Any) -> Any:
    files = with_options(PdfWriter(), options, "output.pdf").files(plan or small_plan())
    return pypdf.PdfReader(BytesIO(files[name]))


def _text(document: Any) -> str:
    return " ".join(" ".join(page.extract_text().split()) for page in document.pages)


def _lines(page: Any) -> list[Points]:
    """Points (mm on the page) along every subpath that is stroked, curves by de Casteljau's rule."""
    matrix, stack, found = np.eye(3), [], []
    path: list[list[tuple[float, float]]] = []
    for operands, operator in pypdf.generic.ContentStream(page.get_contents(), page.pdf).operations:
        values = [float(v) for v in operands] if operator in (b"cm", b"m", b"l", b"c", b"re") else []
        if operator == b"q":
            stack.append(matrix)
        elif operator == b"Q":
            matrix = stack.pop()
        elif operator == b"cm":
            a, b, c, d, e, f = values
            matrix = np.array([[a, b, 0], [c, d, 0], [e, f, 1]]) @ matrix
        elif operator == b"m":
            path.append([(values[0], values[1])])
        elif operator == b"l":
            path[-1].append((values[0], values[1]))
        elif operator == b"c":
            poles = np.array([path[-1][-1], values[:2], values[2:4], values[4:]])
            path[-1] += [_bezier(poles, k / 16) for k in range(1, 17)]
        elif operator == b"h":
            path[-1].append(path[-1][0])
        elif operator in (b"S", b"n", b"f", b"B"):
            if operator == b"S":
                found += [(np.column_stack([p, np.ones(len(p))]) @ matrix)[:, :2] / MM for p in path]
            path = []
    return found


def _bezier(poles: Points, t: float) -> tuple[float, float]:
    while len(poles) > 1:
        poles = poles[:-1] * (1 - t) + poles[1:] * t
    return float(poles[0][0]), float(poles[0][1])


def _farthest(line: Points, contour: Contour) -> float:
    """How far the line's points are from the contour, at the most."""
    ring = shapely.LinearRing(contour.flattened(0.0005))
    return float(shapely.distance(shapely.points(line), ring).max())


def test_a_template_is_in_true_size() -> None:
    """Every pocket is on the pages at 1:1: what is drawn lies on the plan's outline within 1 µm."""
    plan = small_plan()
    stock, sheet = plan.job.stock[0], plan.sheets[0]
    tiles = tiling(stock, PAPERS_MM["A4"], 8.0, 12.0)
    document = _read("sheet-A-template.pdf")
    across, up = tiles.count
    assert len(document.pages) == across * up
    places = [(column, row) for row in reversed(range(up)) for column in range(across)]
    for page, place in zip(document.pages, places, strict=True):
        assert float(page.mediabox.width) == pytest.approx(tiles.paper[0] * MM, abs=0.01)
        shift = np.array(tiles.corner(*place)) - (8.0, 8.0 + FOOT)
        lines = [line + shift for line in _lines(page)]
        for pocket in sheet.pockets:
            # a point of a straight side has no fine point near it: arcs and corners are what is compared
            corners = np.array([v[:2] for v in pocket.outline.outer.vertices])
            near = [line for line in lines if len(line) > 8 and _reaches(line, corners)]
            assert near, f"pocket {pocket.number} is missing"
            if pocket.outline.is_circle:
                assert min(_farthest(line, pocket.outline.outer) for line in near) < 0.01


def _reaches(line: Points, corners: Points) -> bool:
    return all(np.hypot(*(line - corner).T).min() < 0.001 for corner in corners)


def test_a_template_shows_the_marks_on_the_sheet() -> None:
    """The ring at a corner of the sheet is drawn in true size, its line 2 mm from its middle."""
    plan = with_sheet_marks()
    tiles = tiling(plan.job.stock[0], PAPERS_MM["A4"], 8.0, 12.0)
    document = _read("sheet-A-template.pdf", plan)
    first = document.pages[(tiles.count[1] - 1) * tiles.count[0]]
    shift = np.array(tiles.corner(0, 0)) - (8.0, 8.0 + FOOT)
    ring = plan.sheets[0].marks[0].lines[0]
    near = [line + shift for line in _lines(first) if len(line) > 8]
    assert min(_farthest(line, ring) for line in near) < 0.01


def test_pages_of_a_template_overlap_and_cover_the_sheet() -> None:
    """Every point of the sheet is on a page, and neighbours share the stated overlap."""
    plan = small_plan()
    for overlap in (5.0, 12.0, 40.0):
        tiles = tiling(plan.job.stock[0], PAPERS_MM["A4"], 8.0, overlap)
        (across, up), (width, height) = tiles.count, tiles.tile
        assert tiles.corner(0, 0)[0] < 0 and tiles.corner(across - 1, 0)[0] + width > 300
        assert tiles.corner(0, 0)[1] < 0 and tiles.corner(0, up - 1)[1] + height > 200
        assert tiles.corner(0, 0)[0] + width - tiles.corner(1, 0)[0] == pytest.approx(overlap)


def test_neighbouring_pages_show_the_same_crosses() -> None:
    """A cross in an overlap is on both pages, at the same place of the sheet."""
    tiles = tiling(small_plan().job.stock[0], PAPERS_MM["A4"], 8.0, 12.0)
    document = _read("sheet-A-template.pdf")
    left, right = (
        _crosses(document.pages[k], np.array(tiles.corner(k, tiles.count[1] - 1)) - (8.0, 8.0 + FOOT))
        for k in (0, 1)
    )
    x = tiles.corner(1, 0)[0] + 6.0
    shared = [spot for spot in left if spot[0] == pytest.approx(x, abs=0.01)]
    assert len(shared) >= 2 and set(shared) <= set(right)


def _crosses(page: Any, shift: Points) -> list[tuple[float, float]]:
    level = [
        line + shift for line in _lines(page) if len(line) == 2 and line[0][1] == pytest.approx(line[1][1])
    ]
    return [
        (round(float(a[0] + b[0]) / 2, 2), round(float(a[1]), 2))
        for a, b in level
        if math.isclose(abs(b[0] - a[0]), 8.0, abs_tol=0.001)
    ]


def test_a_ruler_tells_whether_the_print_is_true() -> None:
    """Each page has a line of exactly 100 mm and says so, and asks the reader's program not to scale."""
    document = _read("sheet-A-template.pdf")
    for page in document.pages:
        spans = [float(abs(line[1][0] - line[0][0])) for line in _lines(page) if len(line) == 2]
        assert any(span == pytest.approx(100.0, abs=0.001) for span in spans)
        assert "must measure 100 mm" in page.extract_text()
    assert document.trailer["/Root"]["/ViewerPreferences"]["/PrintScaling"] == "/None"


def test_the_run_sheet_has_every_unit_and_every_caution() -> None:
    """Units with pocket, order line and texts are listed, and the cautions are printed whole."""
    plan = small_plan()
    text = _text(_read("run-sheet.pdf"))
    for note in (*cautions.ALWAYS, cautions.DEFERENCE, *cautions.SEQUENCE, *plan.warnings):
        assert note in text
    assert (
        "Load 1 of 2: sheet A, focus 4 mm above the bed" in text and "Not placed: 4 of order line O-3" in text
    )
    for load in plan.loads:
        for filling in load.fillings:
            assert re.search(rf"{filling.pocket} \w+ \d+° {filling.unit.line}, {filling.unit.number}", text)
    assert text.count("Never leave a running beam unattended") == 3


def test_long_lists_go_on_on_further_pages() -> None:
    """A long text is broken into lines, and a list longer than a page repeats its heading."""
    plan = small_plan()
    order = replace(plan.job.orders[0], texts={"verse": "all the long day " * 250})
    plan = replace(plan, job=replace(plan.job, orders=(order, *plan.job.orders[1:])))
    document = _read("run-sheet.pdf", plan)
    assert len(document.pages) > 4
    for page in document.pages:
        assert all(0 <= y <= 297.1 for line in _lines(page) for y in line[:, 1])


def test_lines_are_never_wider_than_their_column() -> None:
    """Words too long for a line are broken, and nothing of the text is lost."""
    from nesting_adapters.pdf_page import text_width

    text = "a " + "W" * 60 + " end"
    lines = wrapped(text, 3, 40)
    assert all(text_width(line, 3) <= 40 for line in lines)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")


def test_signs_that_the_font_lacks_are_admitted() -> None:
    """A sign without a shape is shown as another, and the foot of the page says so."""
    assert "stands for a sign this font lacks" in _text(_read("run-sheet.pdf", renamed_plan("漢")))
    assert "this font lacks" not in _text(_read("run-sheet.pdf", renamed_plan("é")))


def test_hostile_names_do_no_harm() -> None:
    """Control characters, parentheses and other alphabets in names leave the document readable."""
    document = _read("run-sheet.pdf", renamed_plan(") Tj (\x00\n\\漢"))
    assert "coaster) Tj" in _text(document)


def test_the_same_plan_gives_the_same_bytes() -> None:
    """No date gets into the files."""
    assert PdfWriter().files(small_plan()) == PdfWriter().files(small_plan())


def test_paper_is_a_choice() -> None:
    """Letter paper is 8.5 x 11 in; an unknown paper is refused."""
    page = _read("run-sheet.pdf", paper="letter").pages[0]
    assert [float(side) for side in page.mediabox[2:]] == pytest.approx([612, 792], abs=0.01)
    with pytest.raises(InputError, match=r"output\.pdf\.paper: found 'A9'; allowed: 'A4' or 'letter'"):
        _read("run-sheet.pdf", paper="A9")
