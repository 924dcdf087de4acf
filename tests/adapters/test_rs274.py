"""RS-274/NGC programs, read back by a reader of the tests' own that enforces the standard."""

import math
import re
from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from nesting import load_job, make_plan
from nesting.errors import InputError
from nesting.examples import write_example
from nesting.geometry.contour import Contour
from nesting.job.job import Job
from nesting.plan_values import Plan, Step, Trace
from nesting.plug_in_options import with_options
from nesting_adapters.rs274 import Rs274Writer
from nesting_adapters.rs274_blocks import Motion, numbered
from tests.adapters.expected_runs import expected_cuts, expected_marks
from tests.adapters.rs274_reader import Reader, RuleError, Stroke
from tests.adapters.written_plan import renamed_plan, small_plan
from tests.planned import planned
from tests.strategies import jobs

MICROMETRE = 0.001
ROUNDING = 0.5e-4 * math.sqrt(2) + 1e-9
"""How far four decimals may move a point."""


def _programs(plan: Plan, **options: Any) -> dict[str, str]:
    writer = with_options(Rs274Writer(), options, "output.rs274")
    return {name: content.decode("ascii") for name, content in writer.files(plan).items()}


def _assert_runs(strokes: list[Stroke], expected: list[Contour], shift: complex = 0j) -> None:
    """Each stroke starts and ends where the plan says and stays on the plan's contour."""
    assert len(strokes) == len(expected)
    for stroke, contour in zip(strokes, expected, strict=True):
        first, last = contour.vertices[0], contour.vertices[0 if contour.closed else -1]
        assert abs(stroke.points[0] - complex(*first[:2]) - shift) <= ROUNDING
        assert abs(stroke.points[-1] - complex(*last[:2]) - shift) <= ROUNDING
        chain = [complex(x, y) + shift for x, y in contour.flattened(MICROMETRE / 10).tolist()]
        assert max(_off(point, chain, contour.closed) for point in stroke.along(3)) < 4 * MICROMETRE
        # nothing is left out: a run that cut a corner or a whole arc would be shorter
        length = sum(abs(b - a) for a, b in pairwise(stroke.along(64)))
        assert length == pytest.approx(contour.length, rel=2e-3, abs=0.01)


def _off(point: complex, chain: list[complex], closed: bool) -> float:
    ends = chain[1:] + (chain[:1] if closed else [])
    return min(_distance(point, a, b) for a, b in zip(chain, ends, strict=False))


def _distance(point: complex, a: complex, b: complex) -> float:
    if a == b:
        return abs(point - a)
    along = ((point - a) / (b - a)).real
    return abs(point - (a + min(max(along, 0.0), 1.0) * (b - a)))


def _assert_plan_written(plan: Plan, **options: Any) -> None:
    programs = _programs(plan, **options)
    for sheet in plan.sheets:
        _assert_runs(
            Reader(programs[f"sheet-{sheet.name}-pockets.ngc"]).strokes, expected_cuts(plan, sheet.name)
        )
    for load in plan.loads:
        reader = Reader(programs[f"load-{load.number:02d}-marks.ngc"])
        _assert_runs(reader.strokes, expected_marks(plan, load))


def _assert_planned_lengths(plan: Plan) -> None:
    """Check that the beam is on as far as the plan says, which the plan's own check works out anew."""
    programs = _programs(plan)
    for load in plan.loads:
        strokes = Reader(programs[f"load-{load.number:02d}-marks.ngc"]).strokes
        length = sum(abs(b - a) for s in strokes for a, b in pairwise(s.along(64)))
        assert length == pytest.approx(load.mark_path.beam, rel=2e-3, abs=0.1)


def test_a_plan_is_read_back_by_the_rules_of_the_standard() -> None:
    """Cuts and marks of a plan made by hand keep every rule and run the plan's contours in its order."""
    _assert_plan_written(small_plan())


def test_the_first_example_is_read_back(tmp_path: Any) -> None:
    """The programs of the packaged example keep the standard's rules, ends equal to the plan's."""
    write_example("first", tmp_path)
    _assert_plan_written(make_plan(load_job(tmp_path / "job.toml"), effort=0.05))


@pytest.mark.slow
def test_the_large_example_is_read_back(tmp_path: Any) -> None:
    """Every program of the packaged large example keeps the rules, its ends equal to the plan's."""
    write_example("regatta", tmp_path)
    plan = make_plan(load_job(tmp_path / "job.toml"), effort=0.05)
    assert len(plan.loads) > 9
    _assert_plan_written(plan)
    _assert_planned_lengths(plan)


_RANDOM = settings(
    deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much], derandomize=True
)


@settings(_RANDOM, max_examples=8)
@given(job=jobs())
def test_random_plans_are_read_back(job: Job) -> None:
    """Whatever the job, its programs keep the rules and their ends equal the plan's."""
    plan = planned(job)
    _assert_plan_written(plan)
    _assert_planned_lengths(plan)


@pytest.mark.slow
@settings(_RANDOM, max_examples=200)
@given(job=jobs())
def test_two_hundred_random_plans_are_read_back(job: Job) -> None:
    """The same for 200 plans."""
    plan = planned(job)
    _assert_plan_written(plan)
    _assert_planned_lengths(plan)


@settings(deadline=None, max_examples=300)
@given(
    bulge=st.floats(-50, 50) | st.sampled_from([1.0, -1.0, 1e-6, 1e-9]),
    x=st.floats(-900, 900),
    y=st.floats(-900, 900),
    chord=st.floats(1e-5, 300),
    direction=st.floats(0, 7),
)
def test_any_arc_keeps_the_rules(bulge: float, x: float, y: float, chord: float, direction: float) -> None:
    """Tiny arcs, flat ones and whole turns almost: each reads back on its own arc, within 4 µm."""
    end = complex(x, y) + chord * complex(math.cos(direction), math.sin(direction))
    contour = Contour(((x, y, bulge), (end.real, end.imag, 0.0)), closed=False)
    assume(contour.length < 3000)
    motion = Motion((0.0, 0.0), arcs=True, tolerance=0.005)
    lines = [
        "G21 G17 G90 G94", *motion.travel((x, y)), "M3", *motion.follow(contour, 10), "M5", "M2",
    ]  # fmt: skip
    strokes = Reader("\n".join(lines) + "\n").strokes
    if len(strokes[0].points) > 1:
        _assert_runs(strokes, [contour])
    else:
        assert contour.length < 0.02


@pytest.mark.parametrize(
    "options",
    [
        {"arcs": False},
        {"line_numbers": 5, "percent": True, "end": "M30"},
        {"header": ["G91", "M3"], "footer": ["M3"]},
        {"tolerance": 0.001, "arcs": False, "power_word": ""},
    ],
)
def test_options_keep_the_rules(options: dict[str, Any]) -> None:
    """Lines for arcs, numbers, % lines: all read back; lines of others cannot leave the beam on."""
    programs = _programs(small_plan(), **options)
    readers = [Reader(text) for text in programs.values()]
    assert all(reader.strokes and not reader.beam for reader in readers)


def test_lines_for_arcs_stay_within_the_tolerance() -> None:
    """Without arcs there is no G2 or G3, and no line leaves its arc by more than the tolerance."""
    plan = small_plan()
    text = _programs(plan, arcs=False, tolerance=0.002)["sheet-A-pockets.ngc"]
    assert "G2 " not in text and "G3 " not in text
    _assert_runs(Reader(text).strokes, expected_cuts(plan, "A"))


def test_the_sheet_may_lie_anywhere_on_the_bed() -> None:
    """work_x and work_y shift every point, and the arcs with them."""
    plan = small_plan()
    text = _programs(plan, work_x=-12.5, work_y=100.25)["sheet-A-pockets.ngc"]
    _assert_runs(Reader(text).strokes, expected_cuts(plan, "A"), complex(-12.5, 100.25))


def test_power_feed_and_passes_are_the_settings() -> None:
    """S is the setting's share of full power, F its speed a minute; two passes are two runs."""
    programs = _programs(small_plan(), full_power=255, beam_on="M4", cut_power=80)
    strokes = Reader(programs["load-01-marks.ngc"], on="M4").strokes
    assert {(stroke.power, stroke.feed) for stroke in strokes if stroke.power} == {(102.0, 15_000.0)}
    assert len(strokes) == 2 * 2 * 8 + 2
    cuts = Reader(programs["sheet-A-pockets.ngc"], on="M4").strokes
    assert {(stroke.power, stroke.feed) for stroke in cuts} == {(204.0, 900.0)}


def test_the_machines_manual_goes_first() -> None:
    """Each program says that the machine's manual goes before it."""
    assert all("manual goes before this file" in text for text in _programs(small_plan()).values())


def test_hostile_names_stay_comments() -> None:
    """Line breaks, parentheses and other alphabets in names never become blocks."""
    programs = _programs(renamed_plan(")\nG0 X999 (\x00ü漢 M3"))
    assert all(
        "G0 X999" not in line or line.startswith("(") for t in programs.values() for line in t.split("\n")
    )
    assert all(Reader(text).strokes for text in programs.values())


def test_line_numbers_start_anew_after_five_digits() -> None:
    """A line number never exceeds 99999 (NISTIR 6556, section 3.3.1)."""
    lines = list(numbered(["M5"] * 250, 1000))
    assert lines[98:100] == ["N99000 M5", "N1000 M5"]


@pytest.mark.parametrize(
    ("options", "where"),
    [
        ({"beam_on": "M3 X10"}, "output.rs274.beam_on"),
        ({"beam_on": "M3\nG0"}, "output.rs274.beam_on"),
        ({"beam_off": ""}, "output.rs274.beam_off"),
        ({"beam_on": "M5"}, "output.rs274"),
        ({"full_power": 0}, "output.rs274.full_power"),
        ({"line_numbers": 1.5}, "output.rs274.line_numbers"),
        ({"header": ["%"]}, "output.rs274.header[0]"),
        ({"footer": ["é"]}, "output.rs274.footer[0]"),
        ({"end": "M99"}, "output.rs274.end"),
        ({"work_x": math.inf}, "output.rs274.work_x"),
        ({"beam": "M3"}, "output.rs274.beam"),
    ],
)
def test_wrong_options_are_refused_where_they_stand(options: dict[str, Any], where: str) -> None:
    """Each wrong option is an error at its own key path."""
    with pytest.raises(InputError) as caught:
        _programs(small_plan(), **options)
    assert [problem.where for problem in caught.value.problems] == [where]


@pytest.mark.parametrize(
    "program",
    [
        "G21 G17 G90 G94\nG0 X1 Y1\nM3\nG0 X2\nM5\nM2",
        "G21 G17 G90 G94\nG0 X1 Y1\nM3\nG1 X2\nM5\nM2",
        "G21 G17 G90 G94\nG0 X1 Y1\nM3\nG1 X2 F9\nM2",
        "G21 G17 G90 G94\nG0 X1 Y1\nM3\nG2 X2 Y1 I0.6 F9\nM5\nM2",
        "G21 G17 G90 G94\nG0\nM2",
        "G21 G17 G90 G94\nG0 X1 Y1",
        "G0 X1 Y1\nM2",
        "((nested))\nM2",
        "M3 M5\nM2",
        "S-1\nM2",
        "N100000 M2",
        "M2\nM5",
    ],
)
def test_the_reader_refuses_what_the_standard_does(program: str) -> None:
    """The judge of the other tests is strict: each broken rule is found."""
    with pytest.raises(RuleError):
        Reader(program + "\n")


def test_the_reader_takes_the_standards_own_arc() -> None:
    """From (7, 7), G2 X10 Y16 I3 J4 has its centre at (10, 11), radius 5 (NISTIR 6556, 3.5.3.2)."""
    stroke = Reader("G21 G17 G90 G94\nG0 X7 Y7\nM3\nG2 X10 Y16 I3 J4 F9\nM5\nM2\n").strokes[0]
    assert all(abs(point - 10 - 11j) == pytest.approx(5) for point in stroke.along())
    assert stroke.sweeps[0] < 0


def test_a_plan_without_power_names_none() -> None:
    """Where the job states no power, no S is written: the machine's own setting holds."""
    plan = small_plan()
    job = replace(plan.job, settings=tuple(replace(s, power=None) for s in plan.job.settings))
    texts = _programs(replace(plan, job=job)).values()
    assert not [line for text in texts for line in text.split("\n") if re.search(r"^[^(]*S\d", line)]


def test_leads_waits_and_piercing_are_followed() -> None:
    """A cut goes on in the waste, after its wait, stands while it pierces, and runs to its start."""
    plan = small_plan()
    sheet = plan.sheets[0]
    first, *rest = sheet.cut_path.steps
    led = replace(first, lead=(51.0, 45.5), wait=2.5)
    path = replace(sheet.cut_path, steps=(led, *rest))
    job = replace(plan.job, machine=replace(plan.job.machine, pierce_time=0.25))
    plan = replace(plan, sheets=(replace(sheet, cut_path=path),), job=job)
    text = _programs(plan)["sheet-A-pockets.ngc"]
    assert "G0 X51 Y45.5\nG4 P2.5\nM3\nG4 P0.25\nG1 X" in text and text.count("G4 P0.25") == 4
    _assert_runs(Reader(text).strokes, expected_cuts(plan, "A"))


def test_fills_on_common_lines_are_swept_together() -> None:
    """Steps that are joined become sweeps across both units, a line at a time."""
    plan = small_plan()
    load = plan.loads[0]
    steps = (*load.mark_path.steps[:2], Step(1, 0), Step(2, 0, joined=True))
    plan = replace(plan, loads=(replace(load, mark_path=replace(load.mark_path, steps=steps)),))
    strokes = Reader(_programs(plan)["load-01-marks.ngc"]).strokes
    _assert_runs(strokes, expected_marks(plan, plan.loads[0]))
    swept = [stroke.points[0].real for stroke in strokes[2:6]]
    assert swept == pytest.approx([36, 116, 134, 54])


def test_a_trace_never_turns_the_beam_on() -> None:
    """Where the plan has traces there are programs that run round them in travels only, back to the start."""
    plan = small_plan()
    points = ((0.0, 0.0), (300.0, 0.0), (300.0, 200.0), (0.0, 200.0))
    sheets = (replace(plan.sheets[0], trace=Trace(points, 3.0)),)
    plan = replace(plan, sheets=sheets, loads=(replace(plan.loads[0], trace=Trace(points[:3], 2.0)),))
    programs = _programs(plan)
    for name, corners in (("sheet-A-trace.ngc", points), ("load-01-trace.ngc", points[:3])):
        reader = Reader(programs[name])
        assert not reader.strokes and "M3" not in programs[name].replace("what M3", "")
        assert [target for _, target in reader.travels] == [complex(*p) for p in (*corners, corners[0])]
    assert "load-02-trace.ngc" not in programs
