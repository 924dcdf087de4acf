"""Writes sheets and loads as SVG in true size: millimetres, true arcs, in running order.

The width and height of a file are in mm and its ``viewBox`` has the same numbers, so one unit is one
millimetre (W3C SVG 2, chapter 8).
"""

from collections.abc import Iterable, Iterator
from functools import partial
from xml.sax.saxutils import escape, quoteattr

from nesting.geometry.region import Region
from nesting.job.job import Stock
from nesting.plan_values import CutSheet, Load, Plan, Step, Trace
from nesting_adapters.memory import Memory
from nesting_adapters.plan_lookup import (
    Lookup,
    Place,
    as_run,
    heights_in_words,
    in_turn,
    load_name,
    sweeps_as_run,
)
from nesting_adapters.plan_runs import MarkRun, cut_runs, mark_runs, sheet_mark_lines, traced
from nesting_adapters.svg_path_data import joint_path_data, number, path_data

MOST_SWEEPS = 5000
"""A load with more sweeps than this is written without them, to keep its file small."""

STYLE = 'fill="none" stroke="#000" stroke-width="0.1"'
REFERENCE_STYLE = 'fill="none" stroke="#777" stroke-width="0.1"'


class SvgWriter:
    """One file of pocket paths a sheet, one file of marks a load."""

    summary = "sheet-A-pockets.svg and load-01-marks.svg: paths to cut and to mark, in true size"

    def files(self, plan: Plan) -> dict[str, bytes]:
        """Make the files."""
        lookup, memory = Lookup(plan), Memory[str]()
        pages = {f"sheet-{sheet.name}-pockets.svg": _pockets_page(lookup, sheet) for sheet in plan.sheets}
        pages |= {f"{load_name(load)}-marks.svg": _marks_page(lookup, load, memory) for load in plan.loads}
        return {name: text.encode() for name, text in pages.items()}


def _pockets_page(lookup: Lookup, sheet: CutSheet) -> str:
    stock = lookup.stock[sheet.stock]
    title = f"{lookup.plan.job.title}: pockets of sheet {sheet.name}"
    about = (
        f"{stock.name}, {stock.material} {stock.thickness:g} mm. The group pocket-paths holds the beam's "
        "centre lines, kerf taken off, in cutting order; the group sheet-marks, if there is one, is marked "
        "before. The groups sheet-reference and labels are not to be "
        "cut, nor is the hidden group trace, to be followed with the beam off."
    )
    body = [
        *_group("sheet-reference", _reference(stock), REFERENCE_STYLE),
        *_sheet_marks(sheet, stock),
        *_group("pocket-paths", _pocket_paths(sheet, stock), STYLE),
        *_group("labels", _labels(sheet, stock), 'fill="#777" font-family="sans-serif" text-anchor="middle"'),
        *_trace(sheet.trace, stock),
    ]
    return _page(stock, title, about, body)


def _marks_page(lookup: Lookup, load: Load, memory: Memory[str]) -> str:
    places = lookup.places(load)
    stock = lookup.stock[lookup.sheets[load.sheet].stock]
    title = f"{lookup.plan.job.title}: marks of load {load.number} on sheet {load.sheet}"
    about = (
        f"Focus {heights_in_words(load)} above the bed. The group marks holds the units in marking order: "
        "stroked paths are followed, filled paths are swept, and dots of pictures "
        "are strokes along their rows. The group reference is not to be marked; nor is "
        "the hidden group sweeps, which holds the same fills line by line, or the hidden group trace, to be "
        "followed with the beam off."
    )
    reference = memory.once(lookup.sheets[load.sheet].stock, lambda: "\n".join(_reference(stock)))
    outlines = (memory.once((load.sheet, p.pocket.number), partial(_blank, p, stock)) for p in places)
    body = [
        *_group("reference", [reference, *outlines], REFERENCE_STYLE),
        *_group("marks", _marks(load, places, stock, memory), STYLE),
        *_group("sweeps", _sweeps(load, places, stock, memory), f'display="none" {STYLE}'),
        *_trace(load.trace, stock),
    ]
    return _page(stock, title, about, body)


def _page(stock: Stock, title: str, about: str, body: list[str]) -> str:
    width, height = number(stock.width, 6), number(stock.height, 6)
    head = (
        '<?xml version="1.0" encoding="UTF-8"?>\n<svg xmlns="http://www.w3.org/2000/svg" '
        f'width="{width}mm" height="{height}mm" viewBox="0 0 {width} {height}">'
    )
    return "\n".join(
        [
            head,
            f"<title>{escape(_clean(title))}</title>",
            f"<desc>{escape(_clean(about))}</desc>",
            *body,
            "</svg>",
            "",
        ]
    )


def _blank(place: Place, stock: Stock) -> str:
    outline = joint_path_data(map(place.lying, place.blank.footprint.contours), stock.height)
    return _path(f"blank-{place.pocket.number}", outline)


def _reference(stock: Stock) -> Iterator[str]:
    yield _path("sheet-outline", _outline(stock.region, stock))
    for index, region in enumerate(stock.keep_outs, 1):
        yield _path(f"keep-out-{index}", _outline(region, stock))


def _pocket_paths(sheet: CutSheet, stock: Stock) -> Iterator[str]:
    for order, run in enumerate(cut_runs(sheet), 1):
        names = {"pocket": run.pocket.number, "blank": run.pocket.blank, "order": order}
        data = path_data(run.line, stock.height)
        yield _path(f"pocket-{run.pocket.number}-{run.step.part + 1}", data, _data(names))


def _sheet_marks(sheet: CutSheet, stock: Stock) -> list[str]:
    lines = [
        _path(f"sheet-mark-{k}", path_data(line, stock.height))
        for k, line in enumerate(sheet_mark_lines(sheet), 1)
    ]
    return _group("sheet-marks", lines, STYLE) if lines else []


def _trace(trace: Trace, stock: Stock) -> list[str]:
    lines = [_path("trace-line", path_data(line, stock.height)) for line in traced(trace)]
    return _group("trace", lines, f'display="none" {REFERENCE_STYLE}') if lines else []


def _labels(sheet: CutSheet, stock: Stock) -> Iterator[str]:
    for pocket in sheet.pockets:
        x0, y0, x1, y1 = pocket.outline.bounds
        x, y, size = (x0 + x1) / 2, stock.height - (y0 + y1) / 2, min(8.0, (x1 - x0) / 3, (y1 - y0) / 2)
        place = f'x="{number(x)}" y="{number(y + size / 3)}" font-size="{number(size)}"'
        yield f"<text {place}>{pocket.number}</text>"


def _marks(load: Load, places: list[Place], stock: Stock, memory: Memory[str]) -> Iterator[str]:
    by_pocket = {place.pocket.number: place for place in places}
    for order, (pocket, steps) in enumerate(in_turn(load.mark_path.steps), 1):
        place = by_pocket[pocket]
        names = {
            "pocket": pocket, "blank": place.blank.name, "line": place.order.name,
            "unit": place.filling.unit.number, "artwork": place.order.artwork or "", "order": order,
        }  # fmt: skip
        marks = [
            memory.once((load.sheet, place.filling.marking, step), partial(_mark, place, step, stock))
            for step in steps
        ]
        yield from _group(f"unit-{order}", marks, _data(names).strip())


def _mark(place: Place, step: Step, stock: Stock) -> str:
    part = place.part(step)
    name = f"mark-{step.pocket}-{step.part + 1}"
    if part.kind == "line":
        lines = [place.lying(as_run(contour, step)) for contour in part.contours]
        return _path(name, joint_path_data(lines, stock.height))
    if part.kind == "dots":
        rows = [place.lying(sweep) for sweep in sweeps_as_run(part, step)]
        return _path(name, joint_path_data(rows, stock.height))
    outlines = [place.lying(contour) for contour in part.contours]
    fill = f' fill="#000" fill-rule="{part.rule}" stroke="none"'
    return _path(name, joint_path_data(outlines, stock.height), fill)


def _sweeps(load: Load, places: list[Place], stock: Stock, memory: Memory[str]) -> Iterator[str]:
    runs = [run for run in mark_runs(load, places) if not run.is_line]
    if sum(run.sweep_count for run in runs) > MOST_SWEEPS:
        return
    for run in runs:
        yield memory.once(run.key, partial(_swept, run, stock))


def _swept(run: MarkRun, stock: Stock) -> str:
    first = run.steps[0]
    return _path(f"sweeps-{first.pocket}-{first.part + 1}", joint_path_data(run.strokes, stock.height))


def _outline(region: Region, stock: Stock) -> str:
    return joint_path_data(region.contours, stock.height)


def _path(name: str, data: str, more: str = "") -> str:
    return f'<path id="{name}"{more} d="{data}"/>'


def _data(names: dict[str, object]) -> str:
    return "".join(f" data-{name}={quoteattr(_clean(str(value)))}" for name, value in names.items())


def _clean(text: str) -> str:
    """Leave out control characters, most of which no XML file may hold."""
    if text.isprintable():
        return text
    return "".join(character if character.isprintable() else " " for character in text)


def _group(name: str, members: Iterable[str], more: str) -> list[str]:
    return [f'<g id="{name}" {more}>', *members, "</g>"]
