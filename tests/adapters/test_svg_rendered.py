"""SVG files as a browser and librsvg draw them at 1:1, compared with the plan's geometry pixel by pixel.

The comparison uses shapely and the plan's values; it shares nothing with the writer.
"""

import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray

from nesting.geometry.contour import Contour
from nesting.plan_values import Load, Plan
from nesting_adapters.svg_writer import SvgWriter
from tests.adapters.written_plan import small_plan
from tests.browser import screenshot

PX_PER_MM = 10
WIDTH, HEIGHT = 300, 200
LINE_MM = 0.1
SLACK_MM = 0.12
"""A pixel is 0.1 mm wide, and a renderer may touch the one next to a line's edge."""

Grey = NDArray[np.float64]
RENDERERS = ("browser", "librsvg")


def _rendered(renderer: str, content: bytes, folder: Path) -> Grey:
    """Give the darkness of each pixel, 0 to 1, the lowest row first."""
    source, target = folder / "page.svg", folder / "page.png"
    source.write_bytes(content)
    draw = _by_browser if renderer == "browser" else _by_librsvg
    pixels = draw(source, target)
    assert pixels.shape[:2] == (HEIGHT * PX_PER_MM, WIDTH * PX_PER_MM)
    light = pixels[:, :, :3].mean(axis=2) / 255
    return np.flipud((1 - light) * pixels[:, :, 3] / 255)


def _by_browser(source: Path, target: Path) -> NDArray[np.uint8]:
    # CSS: 96 px are 1 in (W3C CSS Values 3, section 6.2), so this scale makes 10 pixels of 1 mm
    size = (round(WIDTH * 96 / 25.4) + 1, round(HEIGHT * 96 / 25.4) + 1)
    found = screenshot(source, target, *size, scale=PX_PER_MM * 25.4 / 96)
    return found[: HEIGHT * PX_PER_MM, : WIDTH * PX_PER_MM]


def _by_librsvg(source: Path, target: Path) -> NDArray[np.uint8]:
    if shutil.which("rsvg-convert") is None:
        pytest.skip("rsvg-convert of librsvg is not installed")
    image = pytest.importorskip("PIL.Image", reason="pillow is needed to look at a picture")
    dpi = str(PX_PER_MM * 25.4)
    command = ["rsvg-convert", "--dpi-x", dpi, "--dpi-y", dpi, "-o", str(target), str(source)]
    subprocess.run(command, check=True, timeout=120)
    with image.open(target) as picture:
        return np.array(picture.convert("RGBA"))


def _lines(contours: list[Contour]) -> shapely.Geometry:
    rings = [
        (shapely.LinearRing if contour.closed else shapely.LineString)(contour.flattened(0.001))
        for contour in contours
    ]
    return shapely.union_all(rings)


def _assert_drawn(
    picture: Grey, lines: shapely.Geometry, areas: shapely.Geometry, free: shapely.Geometry
) -> None:
    """Every line and area is dark, nothing else is, `free` (labels) left out."""
    rows, columns = np.nonzero(picture > 0.25)
    dark = _points((np.column_stack([columns, rows]) + 0.5) / PX_PER_MM)
    reach = LINE_MM / 2 + SLACK_MM
    allowed = shapely.union_all([shapely.buffer(lines, reach), shapely.buffer(areas, SLACK_MM), free])
    shapely.prepare(allowed)
    stray = dark[~shapely.intersects(allowed, dark)]
    assert len(stray) == 0, f"{len(stray)} dark pixels lie on nothing, one at {stray[0]}"
    along = shapely.get_parts(shapely.segmentize(lines, 0.5))
    points = _points(np.vstack([shapely.get_coordinates(part) for part in along]))
    inside = _points(_grid())
    core = shapely.buffer(areas, -SLACK_MM)
    shapely.prepare(core)
    for x, y in [*_xy(points), *_xy(inside[shapely.contains(core, inside)])]:
        assert _darkest(picture, x, y) > 0.25, f"nothing is drawn at {x:.2f}, {y:.2f}"


def _points(places: NDArray[np.float64]) -> NDArray[np.object_]:
    return np.asarray(shapely.points(places), dtype=object)


def _grid() -> NDArray[np.float64]:
    return np.stack(np.meshgrid(np.arange(0.25, WIDTH, 0.5), np.arange(0.25, HEIGHT, 0.5)), axis=-1).reshape(
        -1, 2
    )


def _xy(points: NDArray[np.object_]) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in shapely.get_coordinates(points)]


def _darkest(picture: Grey, x: float, y: float) -> float:
    """Darkness of the pixel there and those round it."""
    row, column = int(y * PX_PER_MM), int(x * PX_PER_MM)
    return float(picture[max(row - 1, 0) : row + 2, max(column - 1, 0) : column + 2].max(initial=0.0))


def _reference(plan: Plan) -> list[Contour]:
    stock = plan.job.stock[0]
    return [*stock.region.contours, *(c for region in stock.keep_outs for c in region.contours)]


@pytest.mark.parametrize("renderer", RENDERERS)
def test_pockets_are_drawn_where_the_plan_has_them(renderer: str, tmp_path: Path) -> None:
    """At 1:1 every pocket's path is drawn within 0.12 mm of its place, and nothing else but labels."""
    plan = small_plan()
    sheet = plan.sheets[0]
    picture = _rendered(renderer, SvgWriter().files(plan)["sheet-A-pockets.svg"], tmp_path)
    paths = [contour for pocket in sheet.pockets for contour in pocket.path]
    middles = [pocket.outline.shape("on").envelope.centroid for pocket in sheet.pockets]
    _assert_drawn(
        picture,
        _lines([*_reference(plan), *paths]),
        shapely.Point(),
        shapely.union_all(shapely.buffer(middles, 9)),
    )


@pytest.mark.parametrize("renderer", RENDERERS)
def test_marks_are_drawn_where_the_plan_has_them(renderer: str, tmp_path: Path) -> None:
    """At 1:1 every line and every fill of a load is drawn where its unit lies, holes left white."""
    plan = small_plan()
    load = plan.loads[0]
    picture = _rendered(renderer, SvgWriter().files(plan)["load-01-marks.svg"], tmp_path)
    lines, areas = _marks(plan, load)
    _assert_drawn(picture, _lines([*_reference(plan), *lines]), areas, shapely.Point())


def _marks(plan: Plan, load: Load) -> tuple[list[Contour], shapely.Geometry]:
    """Lines followed and footprints, and the areas filled; the small plan's fills go by even and odd."""
    blanks = {blank.name: blank for blank in plan.job.blanks}
    pockets = {pocket.number: pocket for pocket in plan.sheet(load.sheet).pockets}
    lines: list[Contour] = []
    areas: shapely.Geometry = shapely.Point()
    for filling in load.fillings:
        pocket = pockets[filling.pocket]
        place = (pocket.x, pocket.y, pocket.turn)
        lines += [contour.moved(*place) for contour in blanks[pocket.blank].footprint.contours]
        for part in plan.marking(filling.marking).parts if filling.marking else ():
            if part.kind == "line":
                lines += [contour.moved(*place) for contour in part.contours]
                continue
            for contour in part.contours:
                ring = shapely.Polygon(contour.moved(*place).flattened(0.001))
                areas = shapely.symmetric_difference(areas, ring)
    return lines, areas
