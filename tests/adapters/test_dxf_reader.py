"""DXF drawings: true lines and arcs in millimetres, and files that are refused."""

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import ezdxf
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from nesting.errors import InputError
from nesting.geometry.drawing import Drawing
from nesting_adapters.dxf_reader import DxfReader

READER = DxfReader()


def written(folder: Path, draw: Callable[[Any, Any], object], unit: int = 4) -> Path:
    """Write a drawing: `draw` gets the model space and the document."""
    document = ezdxf.new()
    document.header["$INSUNITS"] = unit
    draw(document.modelspace(), document)
    document.saveas(folder / "x.dxf")
    return folder / "x.dxf"


def read(folder: Path, draw: Callable[[Any, Any], object], unit: int = 4) -> Drawing:
    """Write a drawing and read it."""
    return READER.read(written(folder, draw, unit))


def _slot(space: Any, _: Any) -> None:
    space.add_line((0, 0), (20, 0))
    space.add_line((20, 10), (0, 10))
    space.add_arc((20, 5), 5, -90, 90)
    space.add_arc((0, 5), 5, 90, 270)


def test_pieces_become_one_closed_outline_with_true_arcs(tmp_path: Path) -> None:
    """A slot of two lines and two arcs has the area of a rectangle and a disc, exactly."""
    (contour,) = read(tmp_path, _slot).contours
    assert contour.closed and abs(contour.area) == pytest.approx(200 + math.pi * 25, rel=1e-12)
    assert contour.bounds == pytest.approx((0, 0, 30, 10))


def test_bulges_are_arcs(tmp_path: Path) -> None:
    """A polyline of two half circles is a disc, in both kinds of polyline."""
    points = [(0, 0, 1), (10, 0, 1)]
    (light,) = read(tmp_path, lambda space, _: space.add_lwpolyline(points, "xyb", close=True)).contours
    (old,) = read(tmp_path, lambda space, _: space.add_polyline2d(points, "xyb", close=True)).contours
    assert light.area == pytest.approx(math.pi * 25) and old.area == pytest.approx(math.pi * 25)


def test_seen_from_below_left_and_right_change_places(tmp_path: Path) -> None:
    """An arc whose normal points down is mirrored (DXF reference, arbitrary axis algorithm)."""
    flipped = {"extrusion": (0, 0, -1)}
    (arc,) = read(tmp_path, lambda space, _: space.add_arc((0, 0), 10, 0, 90, dxfattribs=flipped)).contours
    x0, y0, x1, y1 = arc.bounds
    assert (x1 - x0, y1 - y0) == pytest.approx((10, 10))
    assert arc.vertices[0][0] - arc.vertices[-1][0] == pytest.approx(-10)


@pytest.mark.parametrize(("unit", "mm"), [(1, 25.4), (4, 1), (5, 10), (6, 1000)])
def test_units(tmp_path: Path, unit: int, mm: float) -> None:
    """A line of 2 in each unit is so many millimetres long."""
    assert read(tmp_path, lambda s, _: s.add_line((0, 0), (2, 0)), unit).width == pytest.approx(2 * mm)


def test_a_drawing_without_unit_needs_one(tmp_path: Path) -> None:
    """It is refused with advice, read in the unit stated, and a second opinion on the unit is refused."""
    path = written(tmp_path, lambda space, _: space.add_circle((0, 0), 1), 0)
    with pytest.raises(InputError, match="does not say its unit"):
        READER.read(path)
    assert READER.read_in(path, "in").width == pytest.approx(50.8)
    stated = written(tmp_path, lambda space, _: space.add_circle((0, 0), 1), 4)
    with pytest.raises(InputError, match="says its unit is mm"):
        READER.read_in(stated, "in")


def test_curves_lie_where_they_should(tmp_path: Path) -> None:
    """The area of a full ellipse is pi a b to 0.1 %, and a straight spline keeps its length."""
    (ellipse,) = read(tmp_path, lambda s, _: s.add_ellipse((0, 0), (20, 0), 0.5)).contours
    assert ellipse.closed and abs(ellipse.area) == pytest.approx(math.pi * 20 * 10, rel=1e-3)
    (spline,) = read(tmp_path, lambda s, _: s.add_open_spline([(0, 0), (1, 0), (2, 0), (9, 0)])).contours
    assert spline.length == pytest.approx(9)


def test_blocks_are_scaled_turned_and_repeated(tmp_path: Path) -> None:
    """An insert of 2 x 3 copies of a circle twice as large gives six; squeezed, a circle is an ellipse."""

    def draw(space: Any, document: Any) -> None:
        document.blocks.new("dot").add_circle((0, 0), 1)
        grid = {"row_count": 2, "column_count": 3, "row_spacing": 10, "column_spacing": 10}
        space.add_blockref("dot", (0, 0), dxfattribs={"xscale": 2, "yscale": 2, **grid})
        space.add_blockref("dot", (100, 0), dxfattribs={"xscale": 4, "yscale": 1})

    contours = read(tmp_path, draw).contours
    assert [abs(c.area) for c in contours] == pytest.approx([4 * math.pi] * 7, rel=5e-3)


def test_hidden_layers_are_not_drawn(tmp_path: Path) -> None:
    """What lies on a layer that is off stays away."""

    def draw(space: Any, document: Any) -> None:
        document.layers.add("aside").off()
        space.add_circle((0, 0), 1, dxfattribs={"layer": "aside"})
        space.add_line((0, 0), (5, 0))

    assert len(read(tmp_path, draw).contours) == 1


def _nested(space: Any, document: Any) -> None:
    document.blocks.new("b0").add_circle((0, 0), 1)
    for k in range(40):
        block = document.blocks.new(f"b{k + 1}")
        for x in (0, 1):
            block.add_blockref(f"b{k}", (x, 0))
    space.add_blockref("b15", (0, 0))


def _recursive(space: Any, document: Any) -> None:
    block = document.blocks.new("self")
    block.add_blockref("self", (1, 0))
    space.add_blockref("self", (0, 0))


def _grid(space: Any, document: Any) -> None:
    document.blocks.new("dot").add_circle((0, 0), 1)
    counts = {"row_count": 32_000, "column_count": 32_000, "row_spacing": 1, "column_spacing": 1}
    space.add_blockref("dot", (0, 0), dxfattribs=counts)


HOSTILE: dict[str, Callable[[Any, Any], object]] = {
    "text": lambda space, _: space.add_text("Ada"),
    "tilted circle": lambda space, _: space.add_circle((0, 0), 1, dxfattribs={"extrusion": (1, 0, 1)}),
    "block that holds itself": _recursive,
    "blocks that double": _nested,
    "a grid of a billion": _grid,
    "nothing": lambda *_: None,
    "far away": lambda space, _: space.add_line((0, 0), (1e300, 0)),
    "a curve without end": lambda space, _: space.add_ellipse((0, 0), (1e12, 0), 0.5),
}


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_drawings_are_refused(name: str, tmp_path: Path) -> None:
    """What cannot be marked, or would never end, is refused with the file's name."""
    with pytest.raises(InputError, match=r"x\.dxf"):
        read(tmp_path, HOSTILE[name])


@pytest.mark.parametrize("content", [b"", b"\0" * 100, b"  0\nSECTION\n", b"PK\x03\x04", b"0\nEOF\n"])
def test_what_is_no_drawing_is_refused(content: bytes, tmp_path: Path) -> None:
    """Files of another kind, empty and cut ones end in a named error."""
    (tmp_path / "x.dxf").write_bytes(content)
    with pytest.raises(InputError, match=r"x\.dxf"):
        READER.read(tmp_path / "x.dxf")


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(share=st.floats(0, 1), line=st.sampled_from(["nan", "1e400", "", "-1", "LINE", "\0", "99999999999"]))
def test_a_changed_line_gives_a_drawing_or_a_named_error(share: float, line: str, tmp_path: Path) -> None:
    """Whatever line of a drawing is replaced, nothing but an input error is raised."""
    good = written(tmp_path, _slot).read_text(encoding="utf-8").splitlines()
    start = next(k for k, text in enumerate(good) if text == "ENTITIES")
    good[start + int(share * (len(good) - start - 1))] = line
    (tmp_path / "bad.dxf").write_text("\n".join(good), encoding="utf-8")
    try:
        READER.read(tmp_path / "bad.dxf")
    except InputError as error:
        assert "bad.dxf" in str(error)


def test_a_long_drawing_is_refused_before_it_is_parsed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A polyline of 150,000 points is refused by its length alone, whatever ends its lines of text."""
    monkeypatch.setattr(ezdxf, "readfile", lambda _: pytest.fail("parsed"))
    points = " 10\n1.0\n 20\n2.0\n" * 150_000
    text = f"  0\nSECTION\n  2\nENTITIES\n  0\nLWPOLYLINE\n{points}  0\nENDSEC\n  0\nEOF\n"
    for ending in ("\n", "\r\n", "\r"):
        (tmp_path / "long.dxf").write_bytes(text.replace("\n", ending).encode())
        with pytest.raises(InputError, match=r"600,0.. lines of text; allowed: 300,000"):
            READER.read(tmp_path / "long.dxf")
