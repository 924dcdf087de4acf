import tomllib
from pathlib import Path
from typing import Any

import pytest

from nesting.errors import InputError
from nesting.job.load import load_job

BAD = Path(__file__).parent / "bad"
EXPECTED: dict[str, dict[str, Any]] = tomllib.loads((BAD / "expected.toml").read_text(encoding="utf-8"))
FOREIGN_WORDS = (
    "Input should",
    "Field required",
    "Extra inputs",
    "validation error",
    "pydantic",
    "Traceback",
)


@pytest.mark.parametrize("name", EXPECTED)
def test_each_damaged_file_is_refused_for_what_is_wrong_in_it(name: str) -> None:
    """A damaged job raises one error, which names every place where something is wrong and no other."""
    with pytest.raises(InputError) as caught:
        load_job(BAD / name)
    expected = EXPECTED[name]
    found = {problem.where: problem for problem in caught.value.problems}
    assert sorted(found) == sorted(expected["at"])
    assert len(found) == len(caught.value.problems)
    for where, fragment in expected["at"].items():
        assert fragment in found[where].message
        assert found[where].file == str(BAD / _file_at_fault(name, where))
        assert not any(word in found[where].message for word in FOREIGN_WORDS)


def test_every_damaged_file_is_expected() -> None:
    """No damaged job lies in the folder without a test."""
    jobs = {path.name for path in BAD.iterdir() if path.suffix in (".toml", ".json")}
    assert jobs - {"expected.toml"} == set(EXPECTED)


def _file_at_fault(name: str, where: str) -> str:
    return name if where.startswith("order_list") else EXPECTED[name].get("file", name)
