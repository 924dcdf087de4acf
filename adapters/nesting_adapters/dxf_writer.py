"""Writes sheets and loads as DXF in true size: millimetres, true arcs as bulges, one layer a role.

ezdxf makes the document round the entities: its tables, header and objects. The entities are written here,
for a plan has tens of thousands of them and only two kinds, both laid down by the published DXF reference.
"""

from collections.abc import Callable, Hashable, Iterable, Iterator
from functools import cache, partial
from io import StringIO
from typing import Annotated, ClassVar

from pydantic import Field, Strict

from nesting.geometry.contour import Contour
from nesting.job.job import Stock
from nesting.plan_values import CutSheet, Load, Plan, Trace
from nesting.plug_in_options import WithOptions
from nesting_adapters.memory import Memory
from nesting_adapters.plan_lookup import Lookup, Place, load_name
from nesting_adapters.plan_runs import MarkRun, cut_runs, mark_runs, sheet_mark_lines, traced
from nesting_adapters.svg_path_data import number

LAYERS = {
    "sheet-outline": "the sheet's edge",
    "keep-outs": "areas of the sheet that stay free",
    "pockets": "the finished holes",
    "pocket-paths": "the beam's centre lines, kerf taken off, in cutting order",
    "sheet-marks": "lines to be marked on the sheet before it is cut",
    "blanks": "footprints of the blanks that are loaded",
    "marks-followed": "lines to be followed",
    "marks-swept": "outlines of what is swept",
    "sweeps": "the same line by line",
    "labels": "numbers of the pockets",
    "trace": "a line to follow with the beam off",
}
"""Layer names and what lies on them."""

REFERENCE_LAYERS = ("sheet-outline", "keep-outs", "blanks", "labels", "trace")
"""Layers that are drawn grey, for nothing on them is cut or marked."""

_GREY, _PLAIN = 8, 7

DECIMALS = 4

_Entity = tuple[str, str]
"""Its kind, and its own tags."""


class DxfWriter(WithOptions):
    """One file of pockets a sheet, one file of marks a load."""

    summary: ClassVar[str] = "sheet-A-pockets.dxf and load-01-marks.dxf: true arcs in mm, one layer a role"
    requires: ClassVar[dict[str, str]] = {"ezdxf": "nesting-optimiser[dxf]"}

    sweeps: Annotated[bool, Strict()] = Field(default=False, description="whether sweeps are drawn too")

    def files(self, plan: Plan) -> dict[str, bytes]:
        """Make the files."""
        lookup, ink = Lookup(plan), _Ink()
        files: dict[str, bytes] = {}
        for sheet in plan.sheets:
            stock = lookup.stock[sheet.stock]
            entities = [*_reference(stock), *_pockets(sheet), *_trace(sheet.trace)]
            files[f"sheet-{sheet.name}-pockets.dxf"] = ink.document(stock, [ink.written(entities)])
        for load in plan.loads:
            stock = lookup.stock[lookup.sheets[load.sheet].stock]
            reference = ink.once(stock.name, partial(_reference, stock))
            marks = self._marks(load, lookup.places(load), ink)
            trace = ink.written(_trace(load.trace))
            files[f"{load_name(load)}-marks.dxf"] = ink.document(stock, [reference, *marks, trace])
        return files

    def _marks(self, load: Load, places: list[Place], ink: "_Ink") -> Iterator[bytes]:
        for place in places:
            yield ink.once((load.sheet, place.pocket.number), partial(_blank, place))
        for run in mark_runs(load, places):
            yield ink.once(run.key, partial(self._run, run))

    def _run(self, run: MarkRun) -> list[_Entity]:
        if run.is_line:
            return [_polyline("marks-followed", line) for line in run.strokes]
        if run.place.part(run.steps[0]).kind == "dots":
            return [_polyline("sweeps", sweep) for sweep in run.strokes]  # nothing else shows a picture
        outlines = [
            _polyline("marks-swept", place.lying(contour))
            for step, place in zip(run.steps, run.places, strict=True)
            for contour in place.part(step).contours
        ]
        return outlines + [_polyline("sweeps", sweep) for sweep in (run.strokes if self.sweeps else ())]


def _blank(place: Place) -> list[_Entity]:
    outlines = [_polyline("blanks", place.lying(contour)) for contour in place.blank.footprint.contours]
    return [*outlines, _label(place.pocket.number, place.pocket.outline.bounds)]


def _reference(stock: Stock) -> Iterator[_Entity]:
    for contour in stock.region.contours:
        yield _polyline("sheet-outline", contour)
    for area in stock.keep_outs:
        for contour in area.contours:
            yield _polyline("keep-outs", contour)


def _trace(trace: Trace) -> Iterator[_Entity]:
    yield from (_polyline("trace", line) for line in traced(trace))


def _pockets(sheet: CutSheet) -> Iterator[_Entity]:
    for pocket in sheet.pockets:
        for contour in pocket.outline.contours:
            yield _polyline("pockets", contour)
        yield _label(pocket.number, pocket.outline.bounds)
    yield from (_polyline("sheet-marks", line) for line in sheet_mark_lines(sheet))
    yield from (_polyline("pocket-paths", run.line) for run in cut_runs(sheet))


def _polyline(layer: str, contour: Contour) -> _Entity:
    head = _tags([
        (8, layer), (100, "AcDbPolyline"), (90, len(contour.vertices)), (70, int(contour.closed)),
    ])  # fmt: skip
    return "LWPOLYLINE", head + "".join([_vertex(*vertex) for vertex in contour.vertices])


def _vertex(x: float, y: float, bulge: float) -> str:
    place = f" 10\n{number(x, DECIMALS)}\n 20\n{number(y, DECIMALS)}\n"
    return f"{place} 42\n{bulge:.10g}\n" if bulge else place


def _label(text: int, box: tuple[float, float, float, float]) -> _Entity:
    x0, y0, x1, y1 = box
    x, y = number((x0 + x1) / 2, DECIMALS), number((y0 + y1) / 2, DECIMALS)
    size = min(8.0, (x1 - x0) / 3, (y1 - y0) / 3)
    return "TEXT", _tags([
        (8, "labels"), (100, "AcDbText"), (10, x), (20, y), (30, 0), (40, number(size, DECIMALS)), (1, text),
        (72, 1), (11, x), (21, y), (31, 0), (100, "AcDbText"), (73, 2),
    ])  # fmt: skip


def _tags(tags: Iterable[tuple[int, object]]) -> str:
    return "".join([f"{code:>3}\n{value}\n" for code, value in tags])


class _Ink:
    """Writes entities as they stand in the files of a plan.

    No handle is given twice in all these files, so that what several loads have in common is written once.
    """

    def __init__(self) -> None:
        _, self._owner, free = _empty(0.0, 0.0)
        self._free = int(free, 16)
        self._memory: Memory[bytes] = Memory()

    def once(self, key: Hashable, make: Callable[[], Iterable[_Entity]]) -> bytes:
        """Give the entities for a key; make and write them if that was not done yet."""
        return self._memory.once(key, lambda: self.written(make()))

    def written(self, entities: Iterable[_Entity]) -> bytes:
        """Write entities with handles that are still free."""
        written = [
            f"  0\n{kind}\n  5\n{handle:X}\n330\n{self._owner}\n100\nAcDbEntity\n{tags}"
            for handle, (kind, tags) in enumerate(entities, self._free)
        ]
        self._free += len(written)
        return "".join(written).encode("ascii")

    def document(self, stock: Stock, entities: Iterable[bytes]) -> bytes:
        """Write a document of a sheet's size round what was written; its next free handle is the plan's."""
        before, after = _around(stock.width, stock.height)
        head = before.replace("{handle}", f"{self._free:X}")
        return b"".join([head.encode("cp1252"), *entities, after.encode("cp1252")])


@cache
def _around(width: float, height: float) -> tuple[str, str]:
    """Make what stands before and after the entities; the next free handle is left open as ``{handle}``."""
    text, _, free = _empty(width, height)
    head, ending, seed = "SECTION\n  2\nENTITIES\n", "  0\nENDSEC\n", "$HANDSEED\n  5\n"
    cut = text.index(ending, text.index(head))
    return text[:cut].replace(f"{seed}{free}\n", f"{seed}{{handle}}\n"), text[cut:]


@cache
def _empty(width: float, height: float) -> tuple[str, str, str]:
    """Write a document without entities; give it with its model space's handle and the next free one."""
    import ezdxf
    from ezdxf import units

    fixed = ezdxf.options.write_fixed_meta_data_for_testing
    # the same plan gives the same bytes, so no date of today
    ezdxf.options.write_fixed_meta_data_for_testing = True
    try:
        document = ezdxf.new("R2000", units=units.MM)
        for name, purpose in LAYERS.items():
            colour = _GREY if name in REFERENCE_LAYERS else _PLAIN
            document.layers.add(name, color=colour).description = purpose
        extents = (0, 0, 0), (width, height, 0)
        document.modelspace().reset_extents(*extents)
        document.header["$EXTMIN"], document.header["$EXTMAX"] = extents
        text = StringIO()
        document.write(text)
    finally:
        ezdxf.options.write_fixed_meta_data_for_testing = fixed
    return text.getvalue(), document.modelspace().block_record_handle, str(document.header["$HANDSEED"])
