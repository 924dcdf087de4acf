"""The example of a plug-in, built and installed into a virtual environment of its own."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from nesting import _plugins
from nesting.examples import write_example

PACKAGE = Path(__file__).parents[2] / "docs" / "plug_in"
if not PACKAGE.is_dir():
    pytest.skip("the documentation is not beside the tests", allow_module_level=True)

EXPECTED = {"coaster": 4, "plaque": 3, "tag": 5}


def _run(*words: str | Path, status: int = 0) -> str:
    command = [str(word) for word in words]
    done = subprocess.run(command, capture_output=True, text=True, timeout=300, check=False)
    assert done.returncode == status, done.stdout + done.stderr
    return done.stdout + done.stderr


@pytest.fixture(scope="module")
def python(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give the Python of a fresh environment that sees what this one has, and the built example."""
    pytest.importorskip("hatchling", reason="what builds the example is not installed (extra dev)")
    folder = tmp_path_factory.mktemp("plug-in")
    _run(sys.executable, "-m", "venv", folder / "env")
    python = folder / "env" / ("Scripts" if os.name == "nt" else "bin") / "python"
    packages = next((folder / "env").rglob("site-packages"))
    seen = [path for path in sys.path if path and Path(path).is_dir()]
    (packages / "seen.pth").write_text("\n".join(seen), encoding="utf-8")
    offline = ("--no-index", "--no-deps", "--no-build-isolation", "--disable-pip-version-check")
    source = folder / "source"
    source.mkdir()
    for file in (PACKAGE / "pyproject.toml", PACKAGE / "nesting_fetch_list.py"):
        (source / file.name).write_bytes(file.read_bytes())
    _run(python, "-m", "pip", "wheel", *offline, "-w", folder / "dist", source)
    _run(python, "-m", "pip", "install", *offline, *(folder / "dist").glob("*.whl"))
    return python


@pytest.mark.slow
def test_it_is_found_where_it_is_installed_and_nowhere_else(python: Path) -> None:
    """The built package alone, by its entry point, makes the format known; this environment lacks it."""
    assert "fetch" not in _plugins.names("plan_writers")
    found = _run(python, "-m", "nesting", "formats")
    assert "fetch-list.txt" in found and "fetch.spare" in found


@pytest.mark.slow
def test_the_command_writes_its_file_with_its_option(python: Path, tmp_path: Path) -> None:
    """A plan written with it lists every blank of the example, and as many spare ones as asked for."""
    write_example("first", tmp_path / "job")
    command = (python, "-m", "nesting", "plan", tmp_path / "job" / "job.toml", "--effort", "1")
    totals = []
    for spare in ("0", "2"):
        out = tmp_path / f"out-{spare}"
        _run(*command, "--out", out, "--formats", "fetch", "--option", f"fetch.spare={spare}")
        text = (out / "fetch-list.txt").read_text(encoding="utf-8")
        rows = [line.split() for line in text.splitlines() if line.startswith(" ")]
        totals.append({kind: sum(int(n) for n, name in rows if name == kind) for _, kind in rows})
    assert totals[0] == EXPECTED
    assert all(totals[1][kind] >= count + 2 for kind, count in EXPECTED.items())


@pytest.mark.slow
def test_a_wrong_option_is_refused_before_anything_is_planned(python: Path, tmp_path: Path) -> None:
    """An option of the plug-in is checked like those of the packaged formats."""
    write_example("first", tmp_path / "job")
    words = ("--formats", "fetch", "--option", "fetch.spare=-1", "--out", tmp_path / "out")
    said = _run(python, "-m", "nesting", "plan", tmp_path / "job" / "job.toml", *words, status=2)
    assert "fetch.spare" in said and not (tmp_path / "out").exists()
