"""The README's promises."""

import re
from pathlib import Path

import pytest

README = (Path(__file__).parents[1] / "README.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("kind", ["main command", "test command"])
def test_each_of_the_two_commands_is_one_line(kind: str) -> None:
    """The README states the two commands where the check script looks for them."""
    found = re.search(rf"<!-- {kind} -->\n```sh\n(.*)\n```\n", README)
    assert found is not None and "\n" not in found[1]
