"""Every code block of the README and of the documentation does what the page says.

The blocks of a page are worked through from top to bottom in one folder, which begins as a copy of the
small example. A comment in the line above a block says more: ``<!-- file: NAME -->`` saves it under that
name, ``<!-- add to: NAME -->`` puts it at the end of that file, ``<!-- not run: REASON -->`` leaves it out.
"""

import os
import re
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from pydantic import ValidationError

from nesting.examples import write_example
from nesting.job.document import JobDocument

ROOT = Path(__file__).parents[2]
PAGES = [path for path in (ROOT / "README.md", *sorted(ROOT.glob("docs/**/*.md"))) if path.exists()]
BLOCK = re.compile(r"((?:^<!--[^\n]*-->\n)*)^```(\w*)\n(.*?)^```$", re.S | re.M)
KINDS = {"python", "sh", "toml", "csv", "text", "svg"}


@dataclass(frozen=True)
class Block:
    """A code block: its line, kind and text, and what the comments above it say."""

    line: int
    kind: str
    text: str
    file: str | None
    added_to: str | None
    left_out: str | None


def blocks(page: str) -> Iterator[Block]:
    """Find the code blocks of a page."""
    for found in BLOCK.finditer(page):
        said = dict(re.findall(r"^<!-- (file|add to|not run): (.*) -->$", found[1], re.M))
        line = page.count("\n", 0, found.start(2)) + 1
        yield Block(line, found[2], found[3], said.get("file"), said.get("add to"), said.get("not run"))


@pytest.mark.parametrize("page", PAGES, ids=lambda page: str(page.relative_to(ROOT)))
def test_the_blocks_of_a_page_run_one_after_the_other(
    page: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Python runs, commands succeed, TOML is part of a job, and files that are shown serve the rest."""
    write_example("first", tmp_path / "page")
    monkeypatch.chdir(tmp_path / "page")
    programs = os.pathsep.join((str(Path(sys.executable).parent), os.environ["PATH"]))
    monkeypatch.setenv("PATH", programs)
    for block in blocks(page.read_text(encoding="utf-8")):
        where = f"{page.name}, line {block.line}"
        if block.file is not None:
            Path(block.file).parent.mkdir(parents=True, exist_ok=True)
            Path(block.file).write_text(block.text, encoding="utf-8")
        if block.added_to is not None:
            with Path(block.added_to).open("a", encoding="utf-8") as file:
                file.write("\n" + block.text)
        if block.left_out is None:
            _work(block, where)


def _work(block: Block, where: str) -> None:
    assert block.kind in KINDS, f"{where}: a block of kind {block.kind!r}"
    if block.kind == "python" and not (block.file or "").endswith(".py"):
        exec(compile(block.text, where, "exec"), {})
    if block.kind == "sh":
        words = ["bash", "-euc", block.text]
        done = subprocess.run(words, capture_output=True, text=True, timeout=300, check=False)
        assert done.returncode == 0, f"{where}:\n{done.stdout}{done.stderr}"
    if block.kind == "toml" and not (block.file or "").endswith("pyproject.toml"):
        assert not list(_wrong_keys(block.text)), where


def _wrong_keys(text: str) -> Iterator[str]:
    """List what the job document refuses in a part of a job; what only lacks the rest is fine."""
    try:
        JobDocument.model_validate(tomllib.loads(text))
    except ValidationError as error:
        lacking = {"missing", "too_short"}
        yield from (str(one) for one in error.errors() if one["type"] not in lacking)


def test_every_block_is_found() -> None:
    """No fence of a page escapes the search, and every block that is left out says why."""
    for page in PAGES:
        text = page.read_text(encoding="utf-8")
        found = list(blocks(text))
        assert 2 * len(found) == len(re.findall(r"^ *```", text, re.M)), page.name
        assert all(block.left_out is None or len(block.left_out) > 10 for block in found), page.name


def test_wrong_parts_of_jobs_are_noticed() -> None:
    """A key that the job does not know, or a value it cannot take, is no part of a job."""
    assert not list(_wrong_keys('[[blanks]]\nname = "tag"\n'))
    assert list(_wrong_keys('[[blanks]]\nnames = "tag"\n'))
    assert list(_wrong_keys('[machine]\ntravel_speed = "fast"\n'))
