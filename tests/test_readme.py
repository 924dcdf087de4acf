"""The README's promises."""

import re
from pathlib import Path

import pytest

from nesting.examples import write_example

README = (Path(__file__).parents[1] / "README.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"```python\n(.*?)```", README, re.S)


@pytest.mark.parametrize("block", BLOCKS, ids=range(len(BLOCKS)))
def test_python_blocks_run(block: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each Python block runs as it stands, in the folder of an example."""
    write_example("first", tmp_path / "job")
    monkeypatch.chdir(tmp_path / "job")
    exec(compile(block, "README.md", "exec"), {})


@pytest.mark.parametrize("kind", ["main command", "test command"])
def test_each_of_the_two_commands_is_one_line(kind: str) -> None:
    """The README states the two commands where the check script looks for them."""
    found = re.search(rf"<!-- {kind} -->\n```sh\n(.*)\n```\n", README)
    assert found is not None and "\n" not in found[1]
