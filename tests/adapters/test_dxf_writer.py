"""DXF files, audited and read back by ezdxf."""

import io
import math
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings

from nesting.geometry.contour import Contour
from nesting.job.job import Job
from nesting.plan_values import Load, Plan, Trace
from nesting.plug_in_options import with_options
from nesting_adapters.dxf_writer import LAYERS, REFERENCE_LAYERS, DxfWriter
from tests.adapters.expected_runs import expected_cuts, expected_groups
from tests.adapters.written_plan import renamed_plan, small_plan
from tests.planned import planned
from tests.strategies import jobs

ezdxf: Any = pytest.importorskip("ezdxf", reason="the extra dxf is not installed")

MICROMETRE = 0.001


def _documents(plan: Plan, **options: Any) -> dict[str, Any]:
    files = with_options(DxfWriter(), options, "output.dxf").files(plan)
    return {name: ezdxf.read(io.StringIO(content.decode("cp1252"))) for name, content in files.items()}


def _contours(document: Any, layer: str) -> list[Contour]:
    lines = document.modelspace().query(f'LWPOLYLINE[layer=="{layer}"]')
    return [Contour(tuple(line.get_points("xyb")), line.closed) for line in lines]


def _assert_same(found: list[Contour], expected: list[Contour]) -> None:
    """Every contour is there in order, its vertices and the middles of its arcs within 1 µm."""
    assert len(found) == len(expected)
    for mine, theirs in zip(found, expected, strict=True):
        assert mine.closed == theirs.closed and len(mine.vertices) == len(theirs.vertices)
        for (a, b), (c, d) in zip(mine.segments, theirs.segments, strict=True):
            assert math.dist(a[:2], c[:2]) < MICROMETRE and math.dist(b[:2], d[:2]) < MICROMETRE
            assert math.dist(_bow(a, b), _bow(c, d)) < MICROMETRE


def _bow(a: tuple[float, ...], b: tuple[float, ...]) -> tuple[float, float]:
    """Middle of a stretch: the bulge is its height over half its chord (published DXF reference, code 42)."""
    dx, dy, bulge = b[0] - a[0], b[1] - a[1], a[2]
    return (a[0] + b[0] + bulge * dy) / 2, (a[1] + b[1] - bulge * dx) / 2


def _assert_written(plan: Plan) -> None:
    documents = _documents(plan, sweeps=True)
    for document in documents.values():
        audit = document.audit()
        assert not audit.errors and not audit.fixes
    for sheet in plan.sheets:
        document = documents[f"sheet-{sheet.name}-pockets.dxf"]
        _assert_same(_contours(document, "pockets"), [c for p in sheet.pockets for c in p.outline.contours])
        _assert_same(_contours(document, "pocket-paths"), expected_cuts(plan, sheet.name))
    for load in plan.loads:
        document = documents[f"load-{load.number:02d}-marks.dxf"]
        for layer, expected in _expected_marks(plan, load).items():
            _assert_same(_contours(document, layer), expected)


def _expected_marks(plan: Plan, load: Load) -> dict[str, list[Contour]]:
    found: dict[str, list[Contour]] = {"marks-followed": [], "sweeps": []}
    for kind, strokes in expected_groups(plan, load):
        found["marks-followed" if kind == "line" else "sweeps"] += strokes
    pockets = {pocket.number: pocket for pocket in plan.sheet(load.sheet).pockets}
    markings = {filling.pocket: filling.marking for filling in load.fillings}
    swept = []
    for step in load.mark_path.steps:
        pocket = pockets[step.pocket]
        part = plan.marking(markings[step.pocket] or "").parts[step.part]
        if part.kind != "line":
            swept += [contour.moved(pocket.x, pocket.y, pocket.turn) for contour in part.contours]
    return {**found, "marks-swept": swept}


def test_a_plan_passes_the_audit_and_reads_back() -> None:
    """No error and nothing to mend, and every contour of every role is back within 1 µm, arcs as arcs."""
    _assert_written(small_plan())


@settings(
    deadline=None, max_examples=5, derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)  # fmt: skip
@given(job=jobs())
def test_random_plans_pass_the_audit_and_read_back(job: Job) -> None:
    """Whatever the job, its drawings are sound and equal the plan."""
    _assert_written(planned(job))


def test_the_drawing_is_in_millimetres_at_true_size() -> None:
    """$INSUNITS is 4, millimetres, and the extents are the sheet's."""
    for document in _documents(small_plan()).values():
        assert document.units == ezdxf.units.MM == 4
        assert tuple(document.header["$EXTMAX"])[:2] == (300, 200)


def test_every_role_has_a_layer_of_its_own() -> None:
    """Nothing lies on a layer that is not described, and what is not cut or marked is grey."""
    for document in _documents(small_plan(), sweeps=True).values():
        assert {entity.dxf.layer for entity in document.modelspace()} <= set(LAYERS)
        for name in LAYERS:
            layer = document.layers.get(name)
            assert (layer.color == 8) == (name in REFERENCE_LAYERS)


def test_a_round_pocket_is_two_arcs() -> None:
    """A round pocket has two vertices with a bulge of 1, a half turn each."""
    document = _documents(small_plan())["sheet-A-pockets.dxf"]
    assert [vertex[2] for vertex in _contours(document, "pocket-paths")[3].vertices] == [1.0, 1.0]


def test_sweeps_are_drawn_only_on_request() -> None:
    """Without the option the layer is empty."""
    assert not _contours(_documents(small_plan())["load-01-marks.dxf"], "sweeps")


def test_pockets_are_numbered() -> None:
    """The label of each pocket stands amid it."""
    plan = small_plan()
    labels = _documents(plan)["sheet-A-pockets.dxf"].modelspace().query("TEXT")
    assert [label.dxf.text for label in labels] == ["1", "2", "3", "4"]
    x, y, _ = labels[0].dxf.align_point
    assert (x, y) == pytest.approx((45, 150))


def test_the_same_plan_gives_the_same_bytes(monkeypatch: pytest.MonkeyPatch) -> None:
    """No date and no random name gets into a file."""
    from nesting_adapters import dxf_writer

    first = DxfWriter().files(small_plan())
    dxf_writer._around.cache_clear()
    assert DxfWriter().files(small_plan()) == first
    assert not any(str(date.today().year).encode() + b"-" in content for content in first.values())


def test_names_cannot_break_a_file() -> None:
    """Line breaks and other alphabets in what a user names do no harm."""
    for document in _documents(renamed_plan("\n  0\nLINE\né漢")).values():
        assert not document.audit().errors and not document.modelspace().query("LINE")


def test_a_missing_library_is_named(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Asked for without its extra, the writer says what to install."""
    from nesting import plug_in_options, write_plan
    from nesting.errors import InputError

    monkeypatch.setattr(plug_in_options, "find_spec", lambda _: None)
    with pytest.raises(InputError, match=r"dxf needs ezdxf; install nesting-optimiser\[dxf\]"):
        write_plan(small_plan(), tmp_path / "out", ["dxf"])


def test_a_trace_has_a_layer_of_its_own() -> None:
    """The line to follow with the beam off is drawn, closed, where the plan has one."""
    plan = small_plan()
    points = ((1.0, 1.0), (200.0, 1.0), (200.0, 100.0))
    plan = replace(plan, loads=(replace(plan.loads[0], trace=Trace(points, 2.0)), plan.loads[1]))
    documents = _documents(plan)
    _assert_same(_contours(documents["load-01-marks.dxf"], "trace"), [Contour.polyline(points)])
    assert not _contours(documents["load-02-marks.dxf"], "trace")
