"""A paper template of a sheet in true size, on as many pages as it takes, to check a sheet by eye.

The pages overlap; crosses in the overlap lie on top of each other when two pages are laid right.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass

from nesting.geometry.contour import Contour
from nesting.job.job import Stock
from nesting.plan_values import CutSheet
from nesting_adapters.pdf_page import GREY, Pages
from nesting_adapters.plan_runs import sheet_mark_lines

FOOT = 14.0
"""Height in mm of the strip at the foot with the ruler and the page's place."""

EDGE = 3.0
"""Paper that is left round the sheet, so that its edge does not lie on a page's."""

RULER_MM = 100.0
CROSS_MM = 4.0


@dataclass(frozen=True)
class Tiling:
    """How a sheet is spread over pages: the paper in mm, the part of it that is drawn on, and the steps."""

    paper: tuple[float, float]
    margin: float
    overlap: float
    size: tuple[float, float]

    @property
    def tile(self) -> tuple[float, float]:
        """Width and height of the sheet's part that one page shows."""
        return self.paper[0] - 2 * self.margin, self.paper[1] - 2 * self.margin - FOOT

    @property
    def count(self) -> tuple[int, int]:
        """Pages across and up."""
        across, up = (
            max(1, math.ceil((length + 2 * EDGE - self.overlap - 1e-9) / (tile - self.overlap)))
            for length, tile in zip(self.size, self.tile, strict=True)
        )
        return across, up

    def corner(self, column: int, row: int) -> tuple[float, float]:
        """Give the place on the sheet of a page's lower left corner."""
        width, height = self.tile
        return column * (width - self.overlap) - EDGE, row * (height - self.overlap) - EDGE


def tiling(stock: Stock, paper: tuple[float, float], margin: float, overlap: float) -> Tiling:
    """Spread a sheet over upright or lying pages, whichever takes fewer."""
    ways = [
        Tiling(way, margin, overlap, (stock.width, stock.height)) for way in (paper, (paper[1], paper[0]))
    ]
    return min(ways, key=lambda way: math.prod(way.count))


def template(title: str, sheet: CutSheet, stock: Stock, tiles: Tiling) -> bytes:
    """Draw the template: finished pockets, the sheet's edge, keep-outs, numbers and marks on the sheet."""
    pages = Pages(*tiles.paper, f"{title}: template of sheet {sheet.name}")
    across, up = tiles.count
    for row in reversed(range(up)):
        for column in range(across):
            pages.start()
            _page(pages, sheet, stock, tiles, column, row)
            place = f"column {column + 1} of {across} from the left, row {row + 1} of {up} from the front"
            _foot(pages, tiles, f"{title}: sheet {sheet.name}, {place}")
    return pages.finished()


def _page(pages: Pages, sheet: CutSheet, stock: Stock, tiles: Tiling, column: int, row: int) -> None:
    left, bottom = tiles.margin, tiles.margin + FOOT
    x, y = tiles.corner(column, row)
    with pages.within(left, bottom, *tiles.tile) as frame:
        frame.move(left - x, bottom - y)
        pages.draw(stock.region.contours, 0.3)
        for area in stock.keep_outs:
            pages.draw(area.contours, 0.2, GREY, (2, 1))
        pages.draw(sheet_mark_lines(sheet), 0.1, GREY)
        for pocket in sheet.pockets:
            pages.draw(pocket.outline.contours, 0.15)
            x0, y0, x1, y1 = pocket.outline.bounds
            size = min(8.0, (x1 - x0) / 3, (y1 - y0) / 3)
            middle = ((x0 + x1) / 2, (y0 + y1) / 2 - size / 3)
            pages.text(*middle, str(pocket.number), size, colour=GREY, align="centre")
        for cross in crosses(tiles):
            pages.draw(cross, 0.1, GREY)
    pages.draw([_rectangle(left, bottom, *tiles.tile)], 0.1, GREY, (1, 1))


def crosses(tiles: Tiling) -> Iterator[list[Contour]]:
    """Make the crosses amid every overlap, in sheet coordinates."""
    (across, up), (width, height), half = tiles.count, tiles.tile, tiles.overlap / 2
    lines = [tiles.corner(k, 0)[0] + half for k in range(1, across)]
    rows = [tiles.corner(0, k)[1] + half for k in range(1, up)]
    between_x = [tiles.corner(k, 0)[0] + width * share for k in range(across) for share in (0.25, 0.75)]
    between_y = [tiles.corner(0, k)[1] + height * share for k in range(up) for share in (0.25, 0.75)]
    spots = [(x, y) for x in lines for y in [*rows, *between_y]] + [(x, y) for x in between_x for y in rows]
    for x, y in spots:
        yield [
            Contour.polyline([(x - CROSS_MM, y), (x + CROSS_MM, y)], closed=False),
            Contour.polyline([(x, y - CROSS_MM), (x, y + CROSS_MM)], closed=False),
        ]


def _foot(pages: Pages, tiles: Tiling, place: str) -> None:
    x, y = tiles.margin, tiles.margin
    pages.text(x, y + 9.5, place, 3)
    pages.line([(x, y + 5), (x + RULER_MM, y + 5)], 0.2)
    for k in range(11):
        pages.line([(x + k * 10, y + 5), (x + k * 10, y + (7.5 if k % 5 == 0 else 6.5))], 0.2)
    said = "Print at 100 %, without fitting to the page. This line must measure 100 mm."
    pages.text(x, y + 0.8, said, 2.8)


def _rectangle(x: float, y: float, width: float, height: float) -> Contour:
    return Contour.polyline([(x, y), (x + width, y), (x + width, y + height), (x, y + height)])
