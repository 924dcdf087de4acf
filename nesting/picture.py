"""Small SVG drawings by which layouts and plans show themselves in a notebook (W3C SVG 2)."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape

from nesting.geometry.contour import Contour
from nesting.geometry.region import Region

WIDTH_PX = 420


@dataclass(frozen=True)
class Drawn:
    """One sheet to draw: title, outline, regions with their labels, and lines; mm, y pointing up."""

    title: str
    outline: Region
    regions: tuple[tuple[Region, str], ...]
    lines: tuple[Contour, ...] = ()

    def _repr_svg_(self) -> str:
        """Show it in a notebook."""
        return sheets_svg([self])


def sheets_svg(sheets: Sequence[Drawn]) -> str:
    """Draw sheets below one another, each to its own scale.

    >>> square = Region.rectangle(10, 10)
    >>> sheets_svg([Drawn("A & B", square, ((square, "1"),))]).count("<path")
    2
    """
    pieces, top = [], 0.0
    for sheet in sheets:
        x0, y0, x1, y1 = sheet.outline.bounds
        scale = (WIDTH_PX - 20) / max(x1 - x0, 1e-9)
        pieces.append(f'<text x="10" y="{top + 16:.0f}" font-size="13">{escape(sheet.title)}</text>')
        pieces.append(
            f'<g transform="translate({10 - x0 * scale:.3f} {top + 24 + y1 * scale:.3f}) '
            f'scale({scale:.5f} {-scale:.5f})">{"".join(_shapes(sheet))}</g>'
        )
        pieces += _labels(sheet, scale, top + 24 + y1 * scale, 10 - x0 * scale)
        top += 40 + (y1 - y0) * scale
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH_PX}" height="{max(top, 1):.0f}" '
        f'font-family="sans-serif" fill="#1d2b30">{"".join(pieces)}</svg>'
    )


def joint_bounds(regions: Sequence[Region]) -> tuple[float, float, float, float]:
    """Give the box round some regions; a box of 1 mm round none.

    >>> joint_bounds([Region.rectangle(2, 1), Region.rectangle(1, 3)])
    (0.0, 0.0, 2.0, 3.0)
    """
    boxes = [region.bounds for region in regions] or [(0.0, 0.0, 1.0, 1.0)]
    left, low, right, high = zip(*boxes, strict=True)
    return min(left), min(low), max(right), max(high)


def table_html(caption: str, heads: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """Write a table.

    >>> table_html("Load 1", ["Pocket"], [[3]])
    '<table><caption>Load 1</caption><tr><th scope="col">Pocket</th></tr><tr><td>3</td></tr></table>'
    """
    head = "".join(f'<th scope="col">{escape(name)}</th>' for name in heads)
    body = "".join(
        f"<tr>{''.join(f'<td>{escape(str(cell))}</td>' for cell in row)}</tr>" for row in rows
    )  # fmt: skip
    return f"<table><caption>{escape(caption)}</caption><tr>{head}</tr>{body}</table>"


def _shapes(sheet: Drawn) -> Iterable[str]:
    style = 'stroke="#1d2b30" stroke-width="1" vector-effect="non-scaling-stroke" fill-rule="evenodd"'
    yield f'<path d="{_data(sheet.outline.contours)}" fill="#f6f0e4" {style}/>'
    for region, _ in sheet.regions:
        yield f'<path d="{_data(region.contours)}" fill="#fff" {style}/>'
    if sheet.lines:
        yield f'<path d="{_data(sheet.lines)}" fill="none" {style}/>'


def _labels(sheet: Drawn, scale: float, down: float, right: float) -> Iterable[str]:
    for region, label in sheet.regions:
        if sheet.lines:  # which are amid the regions
            x, y = right + region.bounds[0] * scale + 6, down - region.bounds[3] * scale + 12
        else:
            spot = region.shape("on").representative_point()
            x, y = right + spot.x * scale, down - spot.y * scale + 4
        yield f'<text x="{x:.1f}" y="{y:.1f}" font-size="11" text-anchor="middle">{escape(label)}</text>'


def _data(contours: Iterable[Contour]) -> str:
    return "".join(
        f"M{'L'.join(f'{x:.2f} {y:.2f}' for x, y in contour.flattened(0.05).tolist())}{'Z' * contour.closed}"
        for contour in contours
    )
