"""Reads DXF drawings, as artwork and as outlines: lines and arcs stay what they are."""

import logging
from pathlib import Path
from typing import Any

from nesting.errors import InputError, Problem
from nesting.geometry.contour import Contour
from nesting.geometry.drawing import Drawing, Shape, joint_bounds
from nesting.units import MM_PER_UNIT
from nesting_adapters.dxf_chains import joined
from nesting_adapters.dxf_entities import entities, shape_contours
from nesting_adapters.extras import library, refuse_large

MOST_BYTES = 8_000_000
MOST_POINTS = 400_000
MOST_LINES = 300_000
"""Lines of text: a drawing of some 12,000 lines, or 75,000 points, has as many; more take too long."""

MOST_PROBLEMS = 20
FARTHEST_MM = 100_000.0

UNITS = {1: "in", 2: "ft", 4: "mm", 5: "cm", 6: "m"}
"""Units by the header variable $INSUNITS (published DXF reference)."""


class DxfReader:
    """Reads DXF with ezdxf: lines, arcs, circles, polylines, splines, ellipses and inserts of blocks.

    Lines that meet end to end become one. What lies on a layer that is off or frozen is not drawn.
    Anything else in the model space (text, dimensions, hatches, ...) is an error, never left out.
    """

    suffixes = (".dxf",)

    def read(self, path: Path) -> Drawing:
        """Read a drawing that says its unit.

        Raises
        ------
        nesting.errors.InputError
            With every problem found, if the file is not there, is no DXF drawing, says no unit, cannot
            be marked or is not safe.
        """
        return _read(Path(path), None)

    def read_in(self, path: Path, unit: str) -> Drawing:
        """Read a drawing whose coordinates are in `unit`; see `nesting.ports.UnitlessReader`."""
        return _read(Path(path), unit)


def _read(path: Path, unit: str | None) -> Drawing:
    refuse_large(path, MOST_BYTES)
    _refuse_long(path)
    document = _document(path)
    scale = MM_PER_UNIT[_unit(document, unit, path)]
    problems: list[Problem] = []
    contours: list[Contour] = []
    points = 0
    try:
        for entity in entities(document):
            try:
                found = shape_contours(entity, scale)
            except ValueError as error:
                _note(problems, entity, str(error), path)
                continue
            contours += found
            points += sum(len(contour.vertices) for contour in found)
            if points > MOST_POINTS:
                raise InputError.single(
                    f"more than {MOST_POINTS:,} points, the most that are read", file=str(path)
                )
    except InputError:
        raise
    except Exception as error:  # noqa: BLE001 -- damaged entities make ezdxf raise anything
        raise InputError.single(f"this drawing is broken: {_said(error)}", file=str(path)) from None
    if problems:
        raise InputError(problems)
    return _drawing(joined(contours), path)


def _refuse_long(path: Path) -> None:
    """Refuse a drawing by its lines of text, before the parser makes objects of them."""
    try:
        content = path.read_bytes()
    except OSError as error:
        raise InputError.single(f"cannot be read: {error}", file=str(path)) from None
    lines = max(content.count(b"\n"), content.count(b"\r"))
    if lines > MOST_LINES:
        message = f"found {lines:,} lines of text; allowed: {MOST_LINES:,} (12,000 lines, 75,000 points)"
        raise InputError.single(f"{message}; leave out what is not marked or cut", file=str(path))


def _document(path: Path) -> Any:
    ezdxf = library("ezdxf", "dxf", path)
    logger = logging.getLogger("ezdxf")
    # or what it mends goes to the screen of who asked for no log
    if not any(isinstance(handler, logging.NullHandler) for handler in logger.handlers):
        logger.addHandler(logging.NullHandler())
    try:
        document = ezdxf.readfile(path)
    except Exception as error:  # noqa: BLE001 -- damaged files make ezdxf raise anything
        raise InputError.single(f"this is no DXF drawing: {_said(error)}", file=str(path)) from None
    if not len(document.modelspace()):
        raise InputError.single("the drawing is empty; allowed: something to mark or to cut", file=str(path))
    return document


def _unit(document: Any, wanted: str | None, path: Path) -> str:
    code = document.header.get("$INSUNITS", 0)
    stated = UNITS.get(code)
    if code and stated is None:
        raise InputError.single(
            f"found the unit number {code}; allowed: {', '.join(UNITS.values())}", file=str(path)
        )
    if stated is None and wanted is None:
        message = 'the drawing does not say its unit; state it in the job, as unit = "mm"'
        raise InputError.single(message, file=str(path))
    if stated and wanted and stated != wanted:
        message = f"the drawing says its unit is {stated}, and the job {wanted}; leave it out of the job"
        raise InputError.single(message, file=str(path))
    return stated or wanted or "mm"


def _drawing(contours: list[Contour], path: Path) -> Drawing:
    if not contours:
        raise InputError.single("nothing is drawn; allowed: lines, arcs, curves", file=str(path))
    x0, y0, x1, y1 = joint_bounds([contour.bounds for contour in contours])
    if max(abs(x1 - x0), abs(y1 - y0)) > FARTHEST_MM:
        message = f"found a drawing larger than {FARTHEST_MM / 1000:g} m; allowed: smaller"
        raise InputError.single(message, file=str(path))
    shapes = tuple(Shape((contour.moved(-x0, -y0),)) for contour in contours)
    return Drawing(x1 - x0, y1 - y0, shapes)


def _note(problems: list[Problem], entity: Any, message: str, path: Path) -> None:
    if len(problems) < MOST_PROBLEMS:
        handle = getattr(entity.dxf, "handle", None)
        where = entity.dxftype() + (f", handle {handle}" if handle else "")
        problems.append(Problem(str(path), where, message))


def _said(error: Exception) -> str:
    return (str(error) or type(error).__name__)[:200]
