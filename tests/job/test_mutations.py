import copy
import math
import tomllib
from datetime import date, datetime, time
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from nesting import examples
from nesting.errors import InputError
from nesting.job.job import Job
from nesting.job.load import job_from, load_job

FOLDER = Path(examples.__file__).parent
TEXT = (FOLDER / "regatta" / "job.toml").read_text(encoding="utf-8")

ODD_TEXT = [
    "",
    " ",
    "-1",
    "4 in",
    "1e999 m",
    "nan",
    "../x.svg",
    "art",
    "art/swan.svg",
    "orders.csv",
    "vinyl",
    "\0",
]
ODD_VALUES: list[Any] = [
    None, True, 0, -1, 7, 10**400, -0.0, 1e308, math.nan, math.inf, [], {}, [[]], [None], {"shape": "circle"},
    {"shape": ["circle"]}, [[0, 0], [1, 1]], [[0, 0], [9, 9], [9, 0], [0, 9]], date(1, 1, 1),
    datetime(2026, 1, 1), time(1, 2), b"bytes", {"": ""}, {"[key]": {"a": 1}},
]  # fmt: skip

JUNK = st.one_of(
    st.sampled_from(ODD_VALUES),
    st.sampled_from(ODD_TEXT),
    st.text(max_size=8),
    st.floats(),
    st.integers(),
    st.recursive(st.none() | st.integers(), lambda inner: st.lists(inner, max_size=3), max_leaves=4),
)


def places(value: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """List the path of every value within a document."""
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [p for key, child in inner for p in [(*path, key), *places(child, (*path, key))]]


@st.composite
def mutated(draw: st.DrawFn, name: str) -> dict[str, Any]:
    """Take an example and delete, replace or add one to three values anywhere in it."""
    document: dict[str, Any] = tomllib.loads((FOLDER / name / "job.toml").read_text(encoding="utf-8"))
    for _ in range(draw(st.integers(1, 3))):
        *above, key = draw(st.sampled_from(places(document) or [("title",)]))
        holder: Any = document
        for step in above:
            holder = holder[step]
        match draw(st.sampled_from(["delete", "replace", "add"])):
            case "delete":
                holder.pop(key, None) if isinstance(holder, dict) else holder.pop(key)
            case "replace":
                holder[key] = copy.deepcopy(draw(JUNK))
            case "add" if isinstance(holder, dict):
                holder[draw(st.text(max_size=5))] = copy.deepcopy(draw(JUNK))
            case "add":
                holder.append(copy.deepcopy(draw(JUNK)))
    return document


@pytest.mark.parametrize("name", ["first", pytest.param("regatta", marks=pytest.mark.slow)])
@settings(max_examples=100, deadline=None)
@given(data=st.data())
def test_a_mutated_document_is_read_or_refused(name: str, data: st.DataObject) -> None:
    """Whatever is deleted, replaced or added, the answer is a job or an error that says what is wrong."""
    try:
        assert isinstance(job_from(data.draw(mutated(name)), FOLDER / name), Job)
    except InputError as error:
        assert error.problems
        assert all(problem.message.isprintable() for problem in error.problems)
        assert not any("another kind of value" in problem.message for problem in error.problems)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(at=st.integers(0, len(TEXT)), gone=st.integers(0, 30), put=st.binary(max_size=4))
def test_a_damaged_file_is_read_or_refused(tmp_path: Path, at: int, gone: int, put: bytes) -> None:
    """Whatever bytes are cut out of a job's file or put into it, nothing but an InputError is raised."""
    content = TEXT.encode()
    (tmp_path / "job.toml").write_bytes(content[:at] + put + content[at + gone :])
    try:
        load_job(tmp_path / "job.toml")
    except InputError as error:
        assert all(problem.file.startswith(str(tmp_path)) for problem in error.problems)
