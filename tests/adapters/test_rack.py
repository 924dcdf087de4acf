"""The rack file: kept whole, never written where it is not understood."""

import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import date
from functools import cache
from pathlib import Path

import pytest

from nesting import make_plan, remake
from nesting.errors import InputError
from nesting.geometry.region import Region
from nesting.job.job import Blank, Job, KeptSheet, Machine, MarkSetting, OrderLine, Stock
from nesting.kept_sheets import kept_sheets
from nesting.plan_values import Plan
from nesting.rack import add_to_rack, read_rack, retire_from_rack, whole_rack
from nesting_adapters.rack import RACK_VERSION, SqliteRack

DAY = date(2026, 5, 30)


def a_job(quantity: int = 4, kept: tuple[KeptSheet, ...] = ()) -> Job:
    area = Region.circle(40)
    coaster = Blank("coaster", area, 4.0, 1.0, 0.25, (0.0,), area, "fine")
    return Job(
        "rack",
        Machine(300, 200, kerf={"plywood": 0.2}),
        (MarkSetting("fine"),),
        (Stock("plain", 110, 100, 3, "plywood"),),
        (coaster,),
        (),
        (OrderLine("coasters", "coaster", quantity),),
        kept=kept,
    )


@cache
def a_plan(quantity: int = 4) -> Plan:
    return make_plan(a_job(quantity), effort=0.2)


@pytest.fixture
def rack(tmp_path: Path) -> Path:
    """Keep one sheet with four pockets, loaded once."""
    path = tmp_path / "shop.rack"
    add_to_rack(path, a_plan(), cut_on=DAY)
    return path


def test_what_is_kept_comes_back_as_it_was(rack: Path) -> None:
    """Layout, stock, kerf, clearances, date and times used are read back to the last digit."""
    (sheet,) = read_rack(rack)
    (cut,) = kept_sheets(a_plan(), cut_on=DAY)
    assert sheet == replace(cut, name="R1")
    assert (sheet.stock.thickness, sheet.stock.material, sheet.kerf) == (3, "plywood", 0.2)
    assert (sheet.holes[0].clearance, sheet.cut_on, sheet.used, len(sheet.pockets)) == (0.25, DAY, 1, 4)


def test_loads_are_counted_when_a_plan_is_added(rack: Path) -> None:
    """Planning counts nothing; adding the plan counts its loads, and once more only if asked to."""
    again = make_plan(a_job(9, read_rack(rack)), effort=0.2)
    assert [sheet.used for sheet in read_rack(rack)] == [1]
    assert add_to_rack(rack, again).loads == {"R1": 3}
    assert [sheet.used for sheet in read_rack(rack)] == [4]
    with pytest.raises(InputError, match=r"added on .* already"):
        add_to_rack(rack, again)
    add_to_rack(rack, again, again=True)
    assert [sheet.used for sheet in read_rack(rack)] == [7]


def test_loads_made_again_are_counted_on_what_the_sheet_is_called_now(rack: Path) -> None:
    """A plan that knows a sheet by its letter is counted on the sheet with the same pockets."""
    spoiled = remake(a_plan(), ["coasters, unit 2"])
    assert [sheet.name for sheet in spoiled.kept] == ["A"]
    assert add_to_rack(rack, spoiled).loads == {"R1": 1}
    assert read_rack(rack)[0].used == 2


def test_names_are_never_given_twice(rack: Path) -> None:
    """A retired sheet keeps its name and its entry, and is not planned with."""
    retire_from_rack(rack, ["R1"], today=DAY)
    assert read_rack(rack) == ()
    assert add_to_rack(rack, a_plan(3)).new == {"A": "R2"}
    assert [(entry.kept.name, entry.retired) for entry in whole_rack(rack)] == [("R1", DAY), ("R2", None)]


def test_nothing_is_retired_where_a_name_is_wrong(rack: Path) -> None:
    """Every wrong name is told, and the right ones stay in use."""
    before = rack.read_bytes()
    with pytest.raises(InputError) as error:
        retire_from_rack(rack, ["R1", "R8", "R9"])
    assert len(error.value.problems) == 2
    assert rack.read_bytes() == before


def test_a_plan_for_another_rack_is_refused(rack: Path, tmp_path: Path) -> None:
    """Loads are counted only on the sheets that they were planned for."""
    plan = make_plan(a_job(4, read_rack(rack)), effort=0.2)
    other = tmp_path / "other.rack"
    with pytest.raises(InputError, match="not the one on this rack"):
        add_to_rack(other, plan)
    assert not other.exists()
    add_to_rack(other, a_plan(3))
    before = other.read_bytes()
    with pytest.raises(InputError, match="not the one on this rack"):
        add_to_rack(other, plan)
    assert other.read_bytes() == before


def test_an_unsound_plan_is_not_kept(tmp_path: Path) -> None:
    """Sheets of a plan that the check refuses do not come onto a rack."""
    plan = a_plan()
    pocket, *others = plan.sheets[0].pockets
    moved = replace(plan.sheets[0], pockets=(replace(pocket, x=pocket.x + 5), *others))
    with pytest.raises(InputError, match="unsound"):
        add_to_rack(tmp_path / "shop.rack", replace(plan, sheets=(moved,)))
    assert not (tmp_path / "shop.rack").exists()


def _nothing(path: Path) -> None:
    path.write_bytes(b"")


def _text(path: Path) -> None:
    path.write_bytes(b"R1: four coasters\n" * 100)


def _truncated(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:-4096])


def _cut_within(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:5000])


def _scribbled(path: Path) -> None:
    content = bytearray(path.read_bytes())
    content[4096:4196] = b"x" * 100
    path.write_bytes(content)


def _one_digit(path: Path) -> None:
    content = path.read_bytes()
    assert content.count(b'"coaster"') > 2
    path.write_bytes(content.replace(b'"coaster"', b'"coastel"', 1))


def _sql(*statements: str) -> Callable[[Path], None]:
    def change(path: Path) -> None:
        database = sqlite3.connect(path)
        for statement in statements:
            database.execute(statement)
        database.commit()
        database.close()

    return change


DAMAGE = {
    "empty": (_nothing, "no rack"),
    "a text": (_text, "no rack"),
    "a page missing": (_truncated, "damaged"),
    "cut within a page": (_cut_within, "damaged"),
    "a page overwritten": (_scribbled, "damaged"),
    "a letter changed": (_one_digit, "damaged"),
    "a count changed": (_sql("UPDATE sheets SET used = 0"), "damaged"),
    "a table missing": (_sql("DROP TABLE sheets"), "damaged"),
    "newer": (_sql(f"PRAGMA user_version = {RACK_VERSION + 1}"), "newer program"),
    "of another program": (_sql("PRAGMA application_id = 7"), "another program"),
}


@pytest.mark.parametrize("damage", DAMAGE)
def test_a_file_that_is_not_understood_is_refused_and_left_as_it_is(rack: Path, damage: str) -> None:
    """Every command says what is wrong, and not a byte of the file or its folder changes."""
    change, said = DAMAGE[damage]
    change(rack)
    before = rack.read_bytes()
    for command in (
        lambda: read_rack(rack),
        lambda: add_to_rack(rack, a_plan(3)),
        lambda: add_to_rack(rack),
        lambda: retire_from_rack(rack, ["R1"]),
    ):
        with pytest.raises(InputError, match=said) as error:
            command()
        assert str(rack) in str(error.value)
    assert rack.read_bytes() == before
    assert [path.name for path in rack.parent.iterdir()] == [rack.name]


def test_what_is_no_file_is_refused(tmp_path: Path) -> None:
    """A missing file, a folder and an unknown ending are told apart."""
    with pytest.raises(InputError, match=r"no such file.*nesting rack add"):
        read_rack(tmp_path / "shop.rack")
    (tmp_path / "folder.rack").mkdir()
    with pytest.raises(InputError, match="cannot be read"):
        read_rack(tmp_path / "folder.rack")
    with pytest.raises(InputError, match=r"ending in '.db'; allowed: .rack, .sqlite"):
        read_rack(tmp_path / "shop.db")
    with pytest.raises(InputError, match="cannot be made here"):
        add_to_rack(tmp_path / "missing" / "shop.rack")


def test_a_rack_that_stays_locked_is_told(rack: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A command that waits in vain for another one says so, and changes nothing."""
    monkeypatch.setattr("nesting_adapters.rack.BUSY_SECONDS", 0.05)
    other = sqlite3.connect(rack, isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    try:
        with pytest.raises(InputError, match="another command is changing this rack"):
            add_to_rack(rack, a_plan(3))
    finally:
        other.close()
    assert len(read_rack(rack)) == 1


ADDING = """
import sys
from datetime import date
from pathlib import Path
from nesting_adapters.rack import SqliteRack
from nesting.rack import read_rack
source, times = Path(sys.argv[1]), int(sys.argv[2])
(sheet,) = read_rack(source)
for k in range(times):
    loaded, name = () if len(sys.argv) < 6 else ((sheet, 1),), f"{sys.argv[-1]} {k}"
    SqliteRack().add(Path(sys.argv[3]), (sheet,), loaded, source=name, today=date(2026, 5, 30))
"""


def test_two_commands_at_once_lose_nothing(rack: Path, tmp_path: Path) -> None:
    """Two processes that make one rack and add to it at once leave every sheet, under names of their own."""
    target, times = tmp_path / "both.rack", 10
    running = [
        subprocess.Popen([sys.executable, "-c", ADDING, str(rack), str(times), str(target), name])
        for name in ("one", "other")
    ]
    assert [process.wait(timeout=120) for process in running] == [0, 0]
    names = [sheet.name for sheet in read_rack(target)]
    assert names == [f"R{k}" for k in range(1, 2 * times + 1)]
    assert sorted(path.name for path in tmp_path.iterdir()) == ["both.rack", "shop.rack"]


def test_what_a_killed_command_left_is_cleared_away(rack: Path, tmp_path: Path) -> None:
    """A new rack that was never given its name is gone after the next command that makes it."""
    left = tmp_path / ".new.rack.0123456789ab"
    left.write_bytes(rack.read_bytes()[:100])
    (tmp_path / ".other.rack.0123456789ab").touch()
    add_to_rack(tmp_path / "new.rack", a_plan())
    names = {path.name for path in tmp_path.iterdir()}
    assert names == {"shop.rack", "new.rack", ".other.rack.0123456789ab"}


def test_two_threads_lose_nothing(rack: Path) -> None:
    """Within one process changes wait for each other too."""
    (sheet,) = read_rack(rack)

    def add(name: str) -> None:
        for k in range(5):
            SqliteRack().add(rack, (), ((sheet, 1),), source=f"{name} {k}", today=DAY)

    with ThreadPoolExecutor(4) as pool:
        list(pool.map(add, "abcd"))
    assert read_rack(rack)[0].used == 21


def test_counts_of_two_commands_add_up(rack: Path, tmp_path: Path) -> None:
    """Loads that two processes count on one sheet at once are all counted."""
    copy = tmp_path / "copy.rack"
    shutil.copy(rack, copy)
    running = [
        subprocess.Popen([sys.executable, "-c", ADDING, str(copy), "10", str(rack), "loads", name])
        for name in ("one", "other")
    ]
    assert [process.wait(timeout=120) for process in running] == [0, 0]
    assert read_rack(rack)[0].used == 21


BROKEN_OFF = """
import os, sqlite3, sys
rack = sqlite3.connect(sys.argv[1], isolation_level=None)
rack.execute("PRAGMA cache_size = 1")
rack.execute("BEGIN IMMEDIATE")
rack.execute("UPDATE sheets SET used = 99")
if sys.argv[2] == "written":
    rack.execute("CREATE TABLE much (x)")
    rack.executemany("INSERT INTO much VALUES (hex(randomblob(2000)))", [()] * 500)
os.kill(os.getpid(), 9)
"""
"""Changes a rack and is killed before the change is done; "written" when part of it stands in the file."""


@pytest.mark.parametrize("stage", ["begun", "written"])
def test_a_change_that_was_broken_off_is_undone(rack: Path, stage: str) -> None:
    """A journal that a killed command left behind brings back what was there, and is gone after a change."""
    before, journal = whole_rack(rack), rack.with_name("shop.rack-journal")
    subprocess.run([sys.executable, "-c", BROKEN_OFF, str(rack), stage], check=False)
    assert journal.exists()
    assert whole_rack(rack) == before
    retire_from_rack(rack, ["R1"], today=DAY)
    assert [replace(entry, retired=None) for entry in whole_rack(rack)] == list(before)
    assert not journal.exists()


def test_the_store_is_found_by_its_suffixes() -> None:
    """Racks are kept by the plug-in for the ending of their file."""
    assert SqliteRack.suffixes == (".rack", ".sqlite")
