"""The check of a plan: a sound one passes, and each way of being unsound is named."""

import math
from dataclasses import replace

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from nesting.check import check_plan
from nesting.check.cuts import check_cut_path
from nesting.check.report import Findings
from nesting.geometry.contour import Contour
from nesting.geometry.region import Region
from nesting.plan_values import CutSheet, Load, Path, Plan, Pocket, Step
from tests.faults import FAULTS, marking_moved, moved, with_job, with_marking, with_parts, with_pocket
from tests.plans import PLACES, hand_made_plan

_GRID = st.integers(-40_000, 40_000).map(lambda microns: microns / 1000)

_QUICK = settings(deadline=None, max_examples=40)


def test_a_plan_made_by_hand_is_accepted() -> None:
    """A plan worked out on paper has no violation, and the report says what was looked at."""
    report = check_plan(hand_made_plan())
    assert report.ok, str(report)
    assert str(report).startswith("sound: 1 sheets, 4 pockets, 12 steps, 2 markings, 2 loads, 6 units")


@pytest.mark.parametrize("name", FAULTS)
def test_a_fault_made_on_purpose_is_named(name: str) -> None:
    """Each fault alone is reported under its own kind, whatever else follows from it."""
    kind, make = FAULTS[name]
    faulty = make(hand_made_plan())
    assert faulty is not None
    report = check_plan(faulty)
    assert kind in report.kinds, str(report)


@pytest.mark.parametrize(
    ("which", "dx", "kinds"),
    [(1, -0.01, {"gap"}), (1, -2.0, {"gap", "web"}), (3, -0.01, {"web"}), (3, -2.0, {"web"})],
)
def test_a_pocket_moved_nearer_to_its_neighbour_breaks_gap_or_web(
    which: int, dx: float, kinds: set[str]
) -> None:
    """Moved with all that belongs to it, a pocket breaks what is tight there and nothing else but travel."""
    places = tuple((b, round(x + dx, 3) if k == which else x, y, t) for k, (b, x, y, t) in enumerate(PLACES))
    assert check_plan(hand_made_plan(places)).kinds == kinds


@_QUICK
@given(x=_GRID, y=_GRID)
def test_two_discs_are_refused_exactly_if_gap_or_web_is_broken(x: float, y: float) -> None:
    """Wherever a coaster lies beside another one, the verdict is that of the distance of their centres."""
    apart = math.hypot(x, y)
    assume(all(abs(apart - edge) > 1e-4 for edge in (39.999, 40.599, 43.599, 44.999)))
    places = (
        ("coaster", 80.0, 80.0, 0.0),
        ("coaster", round(80 + x, 3), round(80 + y, 3), 0.0),
        ("fob", 1000.0, 0.0, 0.0),
        ("fob", 2000.0, 0.0, 0.0),
    )
    report = check_plan(hand_made_plan(places))
    found = {v.kind for v in report.violations if "pocket 1 and pocket 2" in v.place}
    wanted = set()
    if apart < 40.599:
        wanted.add("overlap")
    if 40.599 < apart < 43.599:
        wanted.add("web")
    if 39.999 < apart < 44.999:
        wanted.add("gap")
    assert found == wanted


@_QUICK
@given(place=st.sampled_from(range(4)), angle=st.floats(0, 2 * math.pi), far=st.integers(3, 200))
def test_a_blank_that_is_not_where_its_pocket_is_is_found(place: int, angle: float, far: int) -> None:
    """From 3 µm on, in any direction, a blank that lies off its pocket has the wrong clearance."""
    dx, dy = far * math.cos(angle) / 1000, far * math.sin(angle) / 1000
    plan = with_pocket(hand_made_plan(), lambda p: replace(p, x=p.x + dx, y=p.y + dy), place)
    worst = far if place < 2 else max(abs(dx), abs(dy)) * 1000
    assume(worst > 2.1)
    assert "clearance" in check_plan(plan).kinds


@_QUICK
@given(by=st.floats(0.003, 0.5), sign=st.sampled_from((-1, 1)), place=st.sampled_from(range(4)))
def test_a_path_that_is_not_half_a_kerf_inside_its_pocket_is_found(by: float, sign: int, place: int) -> None:
    """From 3 µm on, a path too far in or out is refused."""
    plan = hand_made_plan()

    def scaled(pocket: Pocket) -> Pocket:
        (path,) = pocket.path
        x0, y0, x1, y1 = path.bounds
        x, y = (x0 + x1) / 2, (y0 + y1) / 2
        grown = path.moved(-x, -y).scaled(1 + sign * by / ((x1 - x0) / 2)).moved(x, y)
        return replace(pocket, path=(grown,))

    assert "kerf" in check_plan(with_pocket(plan, scaled, place)).kinds


@_QUICK
@given(row=st.integers(0, 27))
def test_any_sweep_that_is_left_out_is_missed(row: int) -> None:
    """The check finds whichever sweep is missing, also one of two on a row."""
    plan = hand_made_plan()
    fill = plan.markings[0].parts[0]
    less = replace(fill, sweeps=fill.sweeps[:row] + fill.sweeps[row + 1 :])
    changed = with_marking(plan, 0, lambda m: with_parts(m, (less, *m.parts[1:])))
    assert len(fill.sweeps) == 28 + 2
    assert "sweep" in check_plan(changed).kinds


def test_a_marking_off_its_alignment_is_found_though_it_is_in_its_area() -> None:
    """A frame moved within its mark area with all that belongs to it is no longer in the middle."""
    plan = with_marking(hand_made_plan(), 1, lambda m: marking_moved(m, 0, 0.5))
    assert check_plan(plan).kinds == {"marking", "travel"}


def test_unplaced_units_are_no_violation_if_the_plan_counts_them() -> None:
    """An order for more than is loaded is sound once the rest is stated as unplaced, but proves nothing."""
    plan = hand_made_plan()
    orders = (replace(plan.job.orders[0], quantity=10), *plan.job.orders[1:])
    short = with_job(plan, orders=orders)
    assert check_plan(short).kinds == {"unit"}
    assert check_plan(replace(short, unplaced=(("bars", 7),), proven=False)).ok


def test_what_lies_inside_is_cut_first() -> None:
    """A disc inside a ring may not be cut after the ring, which would be cut loose before."""
    rings = (Contour.circle(10, 50, 50), Contour.circle(30, 50, 50))
    pocket = Pocket(1, "ring", 50, 50, 0, Region.circle(30).moved(50, 50), rings)
    starts, beam = (complex(45, 50), complex(35, 50)), rings[0].length + rings[1].length
    numbered = abs(starts[0]) + abs(starts[1] - starts[0])
    for order, kinds in (((0, 1), set()), ((1, 0), {"path"})):
        travel = abs(starts[order[0]]) + abs(starts[0] - starts[1])
        path = Path(tuple(Step(1, k) for k in order), travel, numbered, beam, 1, 1)
        findings = Findings()
        job = hand_made_plan().job
        sheet = CutSheet("A", "birch", (pocket,), path, 0)
        check_cut_path(sheet, job.stock[0], job.machine, 0j, findings)
        assert findings.report().kinds == kinds


def test_a_closed_contour_may_start_at_any_vertex_and_an_open_one_run_backwards() -> None:
    """Travel follows the vertex a contour is started from, and the ends of a part run backwards."""
    plan = hand_made_plan()
    load = plan.loads[1]
    # the dash of the bar on the coaster at (30, 120): from (32.5, 120) to (27.5, 120), here run backwards
    fill, dash = load.mark_path.steps
    steps = (replace(dash, backwards=True), replace(fill, backwards=True))
    first, last = plan.markings[0].parts[0].sweeps[0], plan.markings[0].parts[0].sweeps[-1]
    here = complex(30, 120)
    travel = abs(here - 2.5) + abs(complex(*last[2:]) - 2.5)
    assert first != last
    path = replace(load.mark_path, steps=steps, travel=travel)
    assert check_plan(_with_second_load(plan, path)).ok
    forwards = replace(path, steps=(dash, fill))
    assert check_plan(_with_second_load(plan, forwards)).kinds == {"travel"}


def test_several_passes_count_several_times() -> None:
    """With three passes the beam runs three times as far, and a plan that states one pass is refused."""
    plan = hand_made_plan()
    thrice = with_job(plan, settings=(replace(plan.job.settings[0], passes=3),))
    assert check_plan(thrice).kinds == {"travel"}
    loads = tuple(_thrice_as_far(load) for load in plan.loads)
    assert check_plan(replace(thrice, loads=loads)).ok


def test_a_pocket_at_the_edge_needs_the_web_there_too() -> None:
    """A pocket 2 mm from the sheet's edge is too near by the web of 3 mm, whatever the margin says."""
    plan = hand_made_plan()
    stock = (replace(plan.job.stock[0], margin=0.0),)
    dx = -7.8
    plan = with_job(with_pocket(plan, lambda p: moved(p, dx, 0), 2), stock=stock)
    assert check_plan(plan).kinds == {"web", "travel"}


def _with_second_load(plan: Plan, path: Path) -> Plan:
    return replace(plan, loads=(plan.loads[0], replace(plan.loads[1], mark_path=path)))


def _thrice_as_far(load: Load) -> Load:
    return replace(load, mark_path=replace(load.mark_path, beam=3 * load.mark_path.beam))
