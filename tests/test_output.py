"""Writing a plan's files."""

import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any, ClassVar

import pytest

from nesting import _plugins, output
from nesting.errors import InputError, OutputError, PlugInError
from nesting.output import LIST_NAME, check_output, recover, write_plan
from nesting.plan_values import Plan
from nesting.plug_in_options import WithOptions
from tests.adapters.written_plan import small_plan


class TwoFiles:
    """A writer whose second file lies in a folder of its own."""

    summary = "two files"
    content = b"first"

    def files(self, _: Plan) -> dict[str, bytes]:
        return {"a.txt": self.content, "more/b.txt": b"second"}


class Elsewhere:
    summary = "a file where none belongs"
    path = "../stray.txt"

    def files(self, _: Plan) -> dict[str, bytes]:
        return {self.path: b""}


class Broken:
    summary = "fails"

    def files(self, _: Plan) -> dict[str, bytes]:
        raise ArithmeticError("this writer fails")


class Signed(WithOptions):
    """A writer with options."""

    summary: ClassVar[str] = "a file with a name in it"
    name: str = "nobody"
    times: int = 1

    def files(self, _: Plan) -> dict[str, bytes]:
        return {"signed.txt": (self.name * self.times).encode()}


class Wanting:
    summary = "lacks what it needs"
    requires: ClassVar[dict[str, str]] = {"no_such_module_here": "what-is-missing"}

    def files(self, _: Plan) -> dict[str, bytes]:
        raise AssertionError


@pytest.fixture(autouse=True)
def writers(monkeypatch: pytest.MonkeyPatch) -> None:
    """Install these writers instead of those that ship."""
    known: dict[str, Any] = {"two": TwoFiles, "twin": TwoFiles, "elsewhere": Elsewhere, "broken": Broken}
    known |= {"signed": Signed, "wanting": Wanting}
    monkeypatch.setattr(_plugins, "names", lambda _: sorted(known))
    monkeypatch.setattr(_plugins, "load", lambda _, name: known[name]())


def _contents(folder: Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()
    }


def _names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_what_is_returned_is_what_was_written(tmp_path: Path) -> None:
    """The list names every file, folders in between are made, and nothing else is left behind."""
    written = write_plan(small_plan(), tmp_path / "new" / "out", ["two"])
    assert written == sorted(_contents(tmp_path / "new" / "out")) == ["a.txt", "more/b.txt", LIST_NAME]
    assert _names(tmp_path / "new") == ["out"]


def test_an_earlier_run_is_replaced_as_a_whole(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A second run replaces changed files and takes away those that it no longer writes."""
    write_plan(small_plan(), tmp_path / "out", ["two"])
    monkeypatch.setattr(TwoFiles, "files", lambda *_: {"c.txt": b"third"})
    write_plan(small_plan(), tmp_path / "out", ["two"])
    assert set(_contents(tmp_path / "out")) == {"c.txt", LIST_NAME}
    assert _names(tmp_path) == ["out"]


def test_an_empty_folder_is_filled(tmp_path: Path) -> None:
    """A folder that the user made beforehand may be written to."""
    (tmp_path / "out").mkdir()
    assert "a.txt" in write_plan(small_plan(), tmp_path / "out", ["two"])


def test_a_folder_may_be_named_by_a_detour(tmp_path: Path) -> None:
    """A path that ends in two dots means the folder that it leads to, also when that is foreign."""
    assert "a.txt" in write_plan(small_plan(), tmp_path / "out" / "sub" / "..", ["two"])
    assert _names(tmp_path / "out") == ["a.txt", "more", LIST_NAME]
    with pytest.raises(OutputError, match="holds what an earlier run did not write"):
        check_output(tmp_path / "out" / "..")


@pytest.mark.parametrize("foreign", ["mine.txt", "more/mine.txt", "sub/"])
def test_foreign_files_stop_everything(tmp_path: Path, foreign: str) -> None:
    """A file or folder of the user's among an earlier run's files is named, and all stays as it was."""
    folder = tmp_path / "out"
    write_plan(small_plan(), folder, ["two"])
    if foreign.endswith("/"):
        (folder / foreign).mkdir()
    else:
        (folder / foreign).write_text("keep me", encoding="utf-8")
    before = _contents(folder)
    with pytest.raises(OutputError, match=foreign.rstrip("/")):
        write_plan(small_plan(), folder, ["two"])
    assert _contents(folder) == before
    assert _names(tmp_path) == ["out"]


def test_a_folder_of_somebody_else_is_refused(tmp_path: Path) -> None:
    """A folder without our list is foreign even if its files have names that we would write."""
    (tmp_path / "a.txt").write_text("mine", encoding="utf-8")
    (tmp_path / LIST_NAME).write_text("a.txt\n" + LIST_NAME, encoding="utf-8")
    with pytest.raises(OutputError, match=r"a\.txt"):
        write_plan(small_plan(), tmp_path, ["two"])
    assert (tmp_path / "a.txt").read_text(encoding="utf-8") == "mine"


def test_a_file_and_a_link_are_no_output_folder(tmp_path: Path) -> None:
    """Neither a file nor a link to a folder is written to."""
    (tmp_path / "file").write_text("", encoding="utf-8")
    (tmp_path / "real").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "real")
    for name in ("file", "link"):
        with pytest.raises(OutputError, match=f"is a {name}"):
            check_output(tmp_path / name)


def test_a_link_in_the_folder_is_foreign(tmp_path: Path) -> None:
    """A file of ours that was replaced by a link is not ours any more."""
    write_plan(small_plan(), tmp_path / "out", ["two"])
    (tmp_path / "out" / "a.txt").unlink()
    (tmp_path / "out" / "a.txt").symlink_to(tmp_path)
    with pytest.raises(OutputError, match=r"a\.txt"):
        check_output(tmp_path / "out")


def test_a_full_disk_leaves_the_old_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A failure after the first file was written leaves the earlier run's folder whole, and no remains."""
    folder = tmp_path / "out"
    write_plan(small_plan(), folder, ["two"])
    before = _contents(folder)
    monkeypatch.setattr(TwoFiles, "content", b"changed")
    calls: list[int] = []

    def full(handle: int) -> None:
        calls.append(handle)
        if len(calls) == 2:
            raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OutputError, match="No space left"):
        write_plan(small_plan(), folder, ["two"])
    assert _contents(folder) == before
    assert _names(tmp_path) == ["out"]


def test_a_failed_rename_puts_the_old_folder_back(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """If the new folder cannot take the old one's place, the old one is there again."""
    folder = tmp_path / "out"
    write_plan(small_plan(), folder, ["two"])
    before, rename = _contents(folder), Path.rename
    monkeypatch.setattr(TwoFiles, "content", b"changed")

    def failing(self: Path, target: Path) -> Path:
        if target == folder and not self.name.endswith(".old"):
            raise PermissionError(13, "Permission denied")
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", failing)
    monkeypatch.setattr(output, "exchange", lambda *_: False)
    with pytest.raises(OutputError, match="Permission denied"):
        write_plan(small_plan(), folder, ["two"])
    assert _contents(folder) == before
    assert _names(tmp_path) == ["out"]


KILLED = """
import os, sys
from pathlib import Path
from nesting import output

STEPS = ("os.rename", "os.mkdir", "os.rmdir", "os.remove", "open", "shutil.rmtree", "ctypes.get_errno")
if sys.argv[2] == "two steps":
    output.exchange = lambda *_: False
files = {name: b"new" for name in ("a.txt", "more/b.txt")}
files[output.LIST_NAME] = "\\n".join([output.LIST_HEADING, *files, output.LIST_NAME]).encode()

def run(target, step):
    def dying(event, arguments, count=[0]):
        if event not in STEPS:
            return
        count[0] += 1
        if count[0] == step:
            os.kill(os.getpid(), 9)

    sys.addaudithook(dying)
    output.recover(target)
    output.check_output(target)
    with output._new_folder_beside(target) as new:
        with output._filled(new) as put:
            for name, content in files.items():
                put(name, content)
        output._swap(new, target)
    os._exit(0)

for step in range(1, int(sys.argv[3])):
    child = os.fork()
    if child == 0:
        run(Path(sys.argv[1]) / str(step) / "out", step)
    print(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]))
"""


@pytest.mark.skipif(os.name != "posix", reason="needs fork and kill -9")
@pytest.mark.parametrize("way", ["at once", "two steps"])
def test_killed_at_any_step(tmp_path: Path, way: str) -> None:
    """Killed before any file operation, a run leaves the old folder or the new one, whole, and no remains."""
    old, steps = {"a.txt": b"first", "more/b.txt": b"second"}, 60
    for step in range(1, steps):
        write_plan(small_plan(), tmp_path / str(step) / "out", ["two"])
    command = [sys.executable, "-c", KILLED, str(tmp_path), way, str(steps)]
    told = subprocess.run(command, check=True, capture_output=True, text=True).stdout.split()
    assert set(told) == {"-9", "0"}
    seen = set()
    for step in range(1, steps):
        folder = tmp_path / str(step) / "out"
        assert folder.exists() or way == "two steps"
        recover(folder)
        found = {name: content for name, content in _contents(folder).items() if name != LIST_NAME}
        assert found in (old, dict.fromkeys(old, b"new"))
        assert _names(folder.parent) == ["out"]
        check_output(folder)
        seen.add((told[step - 1], found == old))
    assert seen == {("-9", True), ("-9", False), ("0", False)}


def test_recovery_leaves_alone_what_others_work_on(tmp_path: Path) -> None:
    """A folder that a run is filling is not cleared away by another run."""
    with output._new_folder_beside(tmp_path / "out") as new:
        (new / "a.txt").write_bytes(b"half")
        recover(tmp_path / "out")
        assert (new / "a.txt").exists()


def test_a_broken_off_run_leaves_the_old_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Ctrl-C while files are being written leaves what was there."""
    folder = tmp_path / "out"
    write_plan(small_plan(), folder, ["two"])

    def broken_off(handle: int) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "fsync", broken_off)
    with pytest.raises(KeyboardInterrupt):
        write_plan(small_plan(), folder, ["two"])
    assert set(_contents(folder)) == {"a.txt", "more/b.txt", LIST_NAME}
    assert _names(tmp_path) == ["out"]


def test_a_failing_writer_touches_nothing(tmp_path: Path) -> None:
    """A writer's own error leaves no folder, though the files of others were written already."""
    with pytest.raises(ArithmeticError):
        write_plan(small_plan(), tmp_path / "out", ["two", "broken"])
    assert _names(tmp_path) == []


def test_unknown_formats_are_named_with_what_is_installed(tmp_path: Path) -> None:
    """Every unknown format is reported, with the list to choose from."""
    with pytest.raises(InputError) as caught:
        write_plan(small_plan(), tmp_path / "out", ["two", "stone", "clay"])
    assert [problem.where for problem in caught.value.problems] == ["formats", "formats"]
    assert "'stone'; installed: broken, elsewhere, signed, twin, two, wanting" in str(caught.value)
    with pytest.raises(InputError, match="no format was named"):
        write_plan(small_plan(), tmp_path / "out", [])


@pytest.mark.parametrize("path", ["../stray.txt", "/stray.txt", "a/../../b", "a\\b", "C:b", "", "."])
def test_a_writer_stays_in_the_folder(tmp_path: Path, path: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """A plug-in cannot write beside the folder, by whatever kind of path."""
    monkeypatch.setattr(Elsewhere, "path", path)
    with pytest.raises(PlugInError, match="outside the folder"):
        write_plan(small_plan(), tmp_path / "out", ["elsewhere"])


def test_two_writers_cannot_write_one_file(tmp_path: Path) -> None:
    """A file that two writers name is an error, not the luck of the order."""
    with pytest.raises(PlugInError, match=r"a\.txt, which is written already"):
        write_plan(small_plan(), tmp_path / "out", ["two", "twin"])


def test_options_of_the_call_go_before_those_of_the_job(tmp_path: Path) -> None:
    """A writer gets the job's options, those of the call in their place, its defaults for the rest."""
    plan = small_plan()
    plan = replace(plan, job=replace(plan.job, output={"signed": {"name": "Ada", "times": 2}}))
    write_plan(plan, tmp_path / "out", ["signed"])
    assert _contents(tmp_path / "out")["signed.txt"] == b"AdaAda"
    write_plan(plan, tmp_path / "out", ["signed"], {"signed": {"name": "Grace"}})
    assert _contents(tmp_path / "out")["signed.txt"] == b"GraceGrace"


def test_wrong_options_are_named_together(tmp_path: Path) -> None:
    """Unknown writers, unknown options and wrong values come back at once, and nothing is written."""
    options: dict[str, Any] = {"signed": {"time": 3, "name": 4}, "two": {"x": 1}, "stone": {}}
    with pytest.raises(InputError) as caught:
        write_plan(small_plan(), tmp_path / "out", ["two", "signed"], options)
    places = {problem.where for problem in caught.value.problems}
    assert places == {"options.stone", "output.signed.time", "output.signed.name", "output.two.x"}
    assert _names(tmp_path) == []


def test_a_writer_that_lacks_a_library_says_what_to_install(tmp_path: Path) -> None:
    """Asked for by name it is refused with what to install."""
    with pytest.raises(InputError, match="wanting needs no_such_module_here; install what-is-missing"):
        write_plan(small_plan(), tmp_path / "out", ["wanting"])


def test_without_names_such_a_writer_is_left_out(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """If no format is named, those that can be written are."""
    monkeypatch.setattr(_plugins, "names", lambda _: ["signed", "wanting"])
    assert write_plan(small_plan(), tmp_path / "out") == ["signed.txt", LIST_NAME]
