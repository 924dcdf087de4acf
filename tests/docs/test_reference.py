"""The reference is made from the docstrings by one command, the one that the documentation states."""

import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

import nesting

PAGE = Path(__file__).parents[2] / "docs" / "reference.md"
if not PAGE.exists():
    pytest.skip("the documentation is not beside the tests", allow_module_level=True)


@pytest.mark.slow
def test_the_reference_holds_every_public_name(tmp_path: Path) -> None:
    """The command of the page succeeds and describes every name of the package, and the adapters."""
    pytest.importorskip("pdoc", reason="what makes the reference is not installed (extra docs)")
    stated = re.search(r"```sh\n(python .*)\n```", PAGE.read_text(encoding="utf-8"))
    assert stated is not None
    command = [sys.executable, *shlex.split(stated[1])[1:]]
    subprocess.run(command, cwd=tmp_path, check=True, timeout=300)
    page = (tmp_path / "reference" / "nesting.html").read_text(encoding="utf-8")
    assert all(f'id="{name}"' in page for name in nesting.__all__)
    assert (tmp_path / "reference" / "nesting_adapters" / "rs274.html").exists()
    assert (tmp_path / "reference" / "nesting" / "ports.html").exists()
