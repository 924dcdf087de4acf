"""Mark paths: every part once, setting by setting, the figures those of the steps."""

import math
import random
from collections.abc import Mapping

import pytest

from nesting.geometry.contour import Contour
from nesting.geometry.region import Region
from nesting.job.job import Machine, MarkSetting
from nesting.motion.profile import move_time, sweep_time
from nesting.packing.stop import Stop
from nesting.plan_values import CutSheet, Filling, Marking, Part, Path, Placed, Pocket, Step, Unit
from nesting.routing.mark import mark_path
from tests.routing.paths import Ends, ends, travelled

MACHINE = Machine(600, 400, travel_speed=400, acceleration=3000)
FINE = MarkSetting("fine", speed=200)
NO_PATH = Path((), 0, 0, 0, 0, 0)


def random_part(chance: random.Random) -> Part:
    """Make a closed or open line or a fill within 30 x 20 mm."""
    x, y, kind = chance.uniform(0, 25), chance.uniform(0, 15), chance.randrange(3)
    if kind == 0:
        return Part("line", (Contour.polyline([(x, y), (x + 5, y), (x + 2, y + 4)]),))
    if kind == 1:
        return Part("line", (Contour.polyline([(x, y), (x + 5, y + 3)], closed=False),))
    rows = chance.randint(1, 6)
    sweeps = tuple((x, y + k, x + 4, y + k) if k % 2 else (x + 4, y + k, x, y + k) for k in range(rows))
    return Part("fill", (Contour.circle(4, x, y),), sweeps=sweeps)


def marking(name: str, *parts: Part) -> Marking:
    """Make a marking that consists of parts."""
    return Marking(name, "blank", (Placed("art", 1, 0, 0, 0, parts),))


def sheet_of(count: int, columns: int) -> CutSheet:
    """Pockets in rows, every third one turned by 90 degrees."""
    pockets = []
    for k in range(count):
        x, y, turn = 40.0 * (k % columns), 40.0 * (k // columns), 90.0 if k % 3 == 2 else 0.0
        pockets.append(Pocket(k + 1, "blank", x, y, turn, Region.rectangle(1, 1), ()))
    return CutSheet("A", "stock", tuple(pockets), NO_PATH, 0.5)


def run_ends(step: Step, sheet: CutSheet, part: Part) -> Ends:
    """Where the beam goes on and off in a step, from the pocket's placement."""
    at = next(pocket for pocket in sheet.pockets if pocket.number == step.pocket)
    spin = {0.0: 1, 90.0: 1j}[at.turn]
    if part.kind == "line":
        on, off = ends(part.contours[0], step.start, step.backwards)
    else:
        first, last = complex(*part.sweeps[0][:2]), complex(*part.sweeps[-1][2:])
        on, off = (last, first) if step.backwards else (first, last)
    return on * spin + complex(at.x, at.y), off * spin + complex(at.x, at.y)


def assert_sound(
    path: Path, sheet: CutSheet, fillings: list[Filling], markings: Mapping[str, Marking]
) -> None:
    """Every part of every filling once; travel of both orders as stated."""
    parts = {
        (filling.pocket, k): part
        for filling in fillings
        if filling.marking
        for k, part in enumerate(markings[filling.marking].parts)
    }
    assert sorted((step.pocket, step.part) for step in path.steps) == sorted(parts)
    run = [run_ends(step, sheet, parts[step.pocket, step.part]) for step in path.steps]
    assert path.travel == pytest.approx(travelled(run), rel=1e-9)
    numbered = [run_ends(Step(*key), sheet, parts[key]) for key in sorted(parts)]
    assert path.numbered_travel == pytest.approx(travelled(numbered), rel=1e-9)


@pytest.mark.parametrize(("units", "parts"), [(1, 3), (4, 2), (12, 6), (60, 8)])
def test_complete(units: int, parts: int) -> None:
    """Loads of a few to hundreds of parts are marked completely and shorter than in numbered order."""
    chance = random.Random(units)
    markings = {
        name: marking(name, *(random_part(chance) for _ in range(parts))) for name in ("one", "two", "three")
    }
    sheet = sheet_of(units, 10)
    names = [*markings, None]
    fillings = [Filling(k + 1, Unit("line", k + 1), names[k % 4]) for k in range(units)]
    path = mark_path(fillings, sheet, markings, lambda _: FINE, MACHINE, stop=Stop(effort=0.3))
    assert_sound(path, sheet, fillings, markings)
    assert path.seconds <= path.numbered_seconds


def test_same_effort_same_path() -> None:
    """The same load, seed and effort give the same path."""
    chance = random.Random(2)
    markings = {"one": marking("one", *(random_part(chance) for _ in range(9)))}
    fillings = [Filling(k + 1, Unit("line", k + 1), "one") for k in range(40)]
    paths = [
        mark_path(fillings, sheet_of(40, 8), markings, {"one": FINE}, MACHINE, stop=Stop(effort=0.3), seed=7)
        for _ in range(2)
    ]
    assert paths[0] == paths[1]


def test_setting_by_setting() -> None:
    """All parts with one setting are marked before the first one with the next."""
    dot = Part("line", (Contour.circle(5, 10, 10),))
    markings = {"fine": marking("fine", dot), "deep": marking("deep", dot)}
    settings = {"fine": FINE, "deep": MarkSetting("deep", speed=80)}
    fillings = [Filling(k + 1, Unit("line", k + 1), ("fine", "deep")[k % 2]) for k in range(20)]
    path = mark_path(fillings, sheet_of(20, 5), markings, settings, MACHINE, stop=Stop(effort=0.2))
    assert [step.pocket % 2 for step in path.steps] == [1] * 10 + [0] * 10


@pytest.mark.parametrize("units", [1, 6, 40])
def test_fill_before_its_outline(units: int) -> None:
    """A line round a fill is marked after the fill, in small loads as in large ones."""
    chance = random.Random(units)
    parts: list[Part] = []
    for _ in range(5):
        ring = Contour.circle(3, chance.uniform(3, 30), chance.uniform(3, 20))
        x, y = ring.vertices[0][:2]
        parts += [Part("fill", (ring,), sweeps=((x, y, x + 3, y),)), Part("line", (ring,))]
    fillings = [Filling(k + 1, Unit("line", k + 1), "rings") for k in range(units)]
    markings = {"rings": marking("rings", *parts)}
    path = mark_path(
        fillings, sheet_of(units, 8), markings, lambda _: FINE, MACHINE, stop=Stop(effort=0.4), seed=2
    )
    assert_sound(path, sheet_of(units, 8), fillings, markings)
    place = {(step.pocket, step.part): k for k, step in enumerate(path.steps)}
    assert all(place[p, k] < place[p, k + 1] for p in range(1, units + 1) for k in range(0, 10, 2))


def test_figures() -> None:
    """Time and beam length of one fill and one open line, two passes each, are those worked out by hand."""
    fill = Part("fill", (Contour.circle(1),), sweeps=((10, 0, 40, 0), (40, 1, 10, 1)))
    line = Part("line", (Contour.polyline([(10, 11), (10, 61)], closed=False),))
    setting = MarkSetting("twice", speed=200, passes=2)
    filling = Filling(1, Unit("line", 1), "both")
    path = mark_path(
        [filling], sheet_of(1, 1), {"both": marking("both", fill, line)}, {"both": setting}, MACHINE,
        stop=Stop(effort=0.1),
    )  # fmt: skip
    assert [(step.part, step.backwards) for step in path.steps] == [(0, False), (1, False)]
    assert path.travel == pytest.approx(10 + 10)
    assert path.beam == 2 * (60 + 50)
    moving = 2 * move_time(10, 400, 3000)
    filling_time = 2 * 2 * sweep_time(30, 200, 3000) + move_time(1, 400, 3000)
    following = 2 * move_time(50, 200, 3000) + move_time(50, 400, 3000)
    assert path.seconds == pytest.approx(moving + filling_time + following, rel=1e-9)


def test_turned_pocket() -> None:
    """On a blank turned by 90 degrees the beam goes where the turned artwork lies."""
    pocket = Pocket(1, "blank", 100, 50, 90, Region.rectangle(1, 1), ())
    line = Part("line", (Contour.polyline([(30, 0), (40, 0)], closed=False),))
    path = mark_path(
        [Filling(1, Unit("line", 1), "m")], CutSheet("A", "s", (pocket,), NO_PATH, 0),
        {"m": marking("m", line)}, {"m": FINE}, MACHINE, start=(100.0, 50.0), stop=Stop(effort=0.1),
    )  # fmt: skip
    assert path.travel == pytest.approx(30)
    assert not path.steps[0].backwards


def test_nothing_to_mark() -> None:
    """A load of blanks without artwork has an empty path."""
    fillings = [Filling(1, Unit("line", 1), None)]
    path = mark_path(fillings, sheet_of(1, 1), {}, {}, MACHINE, stop=Stop(effort=0.1))
    assert path == NO_PATH
    assert math.isclose(path.seconds, 0)


@pytest.mark.parametrize(("pitch", "joined"), [(24.0, 3), (400.0, 0)])
def test_row_swept_together(pitch: float, joined: int) -> None:
    """Units near one another are swept as a row, in the time of longer sweeps; units far apart are not."""
    fill = Part("fill", (Contour.circle(1),), sweeps=tuple((0, k / 10, 20, k / 10) for k in range(50)))
    pockets = tuple(Pocket(k + 1, "blank", pitch * k, 0, 0, Region.rectangle(1, 1), ()) for k in range(4))
    fillings = [Filling(k + 1, Unit("line", k + 1), "bar") for k in range(4)]
    sheet = CutSheet("A", "stock", pockets, NO_PATH, 0.5)
    path = mark_path(
        fillings, sheet, {"bar": marking("bar", fill)}, lambda _: FINE, MACHINE, stop=Stop(effort=0.1)
    )
    assert sum(step.joined for step in path.steps) == joined
    assert path.beam == pytest.approx(4 * 50 * 20)
    assert path.times.total == pytest.approx(path.seconds)
    if joined:
        assert path.times.sweep == pytest.approx(50 * sweep_time(3 * pitch + 20, FINE.speed, 3000), rel=1e-3)
        assert path.travel == 0


def test_delays() -> None:
    """The head stands at both ends of every line, in every pass, and nowhere in a fill."""
    line = Part("line", (Contour.circle(5, 10, 10),))
    fill = Part("fill", (Contour.circle(1),), sweeps=((10, 0, 40, 0), (40, 1, 10, 1)))
    slow = Machine(600, 400, beam_on_delay=0.25, beam_off_delay=0.5)
    twice = MarkSetting("twice", speed=200, passes=2)
    paths = [
        mark_path(
            [Filling(1, Unit("line", 1), "m")], sheet_of(1, 1), {"m": marking("m", line, fill)},
            {"m": twice}, machine, stop=Stop(effort=0.1),
        )
        for machine in (Machine(600, 400), slow)
    ]  # fmt: skip
    assert paths[1].times.mark - paths[0].times.mark == pytest.approx(2 * 0.75)
    assert paths[1].times.sweep == paths[0].times.sweep
