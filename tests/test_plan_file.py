"""The file plan.json."""

import json
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from nesting.check import check_plan
from nesting.errors import InputError
from nesting.plan_file import load_plan, plan_from_json, plan_schema, plan_to_json
from nesting.plan_values import PLAN_VERSION
from tests.adapters.written_plan import small_plan
from tests.plans import hand_made_plan

DATA = Path(__file__).parent / "data"
"""Files of older versions, as they were written then; they are never written anew."""

FINITE = st.floats(allow_nan=False, allow_infinity=False)


def test_a_plan_reads_back_equal() -> None:
    """Nothing is lost or rounded between a plan and its file."""
    assert plan_from_json(plan_to_json(small_plan())) == small_plan()


def test_the_text_is_the_same_each_time() -> None:
    """Writing what was read gives the same bytes."""
    text = plan_to_json(small_plan())
    assert plan_to_json(plan_from_json(text)) == text


@settings(max_examples=50, deadline=None)
@given(x=FINITE, title=st.text(), texts=st.dictionaries(st.text(), st.text(), max_size=3))
def test_any_number_and_any_text_survive(x: float, title: str, texts: dict[str, str]) -> None:
    """Floats keep their last digit and texts every character, control characters included."""
    plan = small_plan()
    marking = plan.markings[0]
    marking = replace(marking, placed=(replace(marking.placed[0], x=x),))
    order = replace(plan.job.orders[0], texts=texts)
    plan = replace(plan, job=replace(plan.job, title=title, orders=(order,)), markings=(marking,))
    assert plan_from_json(plan_to_json(plan)) == plan


def test_vertices_stay_on_a_line() -> None:
    """The file is readable: each contour's vertices on one line, and no line break inside a number list."""
    lines = plan_to_json(small_plan()).splitlines()
    outlines = [line for line in lines if '"vertices"' in line]
    assert len(outlines) >= 8
    assert all("]]" in line for line in outlines)


def test_the_schema_accepts_what_is_written() -> None:
    """The published schema is valid 2020-12 and a written plan follows it (checked by jsonschema)."""
    schema = plan_schema()
    Draft202012Validator.check_schema(schema)
    Draft202012Validator(schema).validate(json.loads(plan_to_json(small_plan())))


def test_the_schema_refuses_what_the_reader_refuses() -> None:
    """An unknown key is an error for the schema too."""
    found = json.loads(plan_to_json(small_plan())) | {"colour": "red"}
    assert not Draft202012Validator(plan_schema()).is_valid(found)


def test_every_error_is_reported_at_once_with_its_key_path() -> None:
    """Three mistakes in three places come back as three problems, each with file and key path."""
    found = json.loads(plan_to_json(small_plan()))
    found["sheets"][0]["pockets"][2]["turn"] = "upright"
    found["loads"][1]["colour"] = "red"
    del found["seed"]
    with pytest.raises(InputError) as caught:
        plan_from_json(json.dumps(found), "out/plan.json")
    assert {problem.where for problem in caught.value.problems} == {
        "sheets[0].pockets[2].turn", "loads[1].colour", "seed",
    }  # fmt: skip
    assert {problem.file for problem in caught.value.problems} == {"out/plan.json"}
    assert "'upright'" in str(caught.value)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "not a JSON text"),
        ('{"job": ', "not a JSON text"),
        ("[" * 5000, "not a JSON text"),
        ("[]", "no object"),
        ("null", "no object"),
        ('{"job": NaN}', "not a JSON text"),
        ("{}", "job: Field required"),
    ],
)
def test_a_text_that_is_no_plan_is_refused(text: str, message: str) -> None:
    """Broken, nested without end, or not a plan at all: always an InputError, never a crash."""
    with pytest.raises(InputError, match=message):
        plan_from_json(text)


def test_a_number_too_large_for_a_float_is_refused() -> None:
    """1e999 is no finite number, so it is no coordinate."""
    text = plan_to_json(small_plan()).replace('"x": 45.0', '"x": 1e999')
    with pytest.raises(InputError, match=r"pockets\[0\]\.x.*finite"):
        plan_from_json(text)


def test_an_outline_that_crosses_itself_is_refused_with_its_place() -> None:
    """The rules of the values hold for a file too, and the message says where they are broken."""
    found = json.loads(plan_to_json(small_plan()))
    bow = [[0, 0, 0], [9, 9, 0], [9, 0, 0], [0, 9.5, 0]]
    found["job"]["blanks"][1]["footprint"]["outer"]["vertices"] = bow
    with pytest.raises(InputError, match=r"job\.blanks\[1\]\.footprint: .*cross itself"):
        plan_from_json(json.dumps(found))


def test_a_newer_version_is_refused_by_its_number() -> None:
    """A file of a later program is not guessed at: the message says both versions."""
    found = {"version": PLAN_VERSION + 1, "made_by": "nesting-optimiser 9", "news": 1}
    with pytest.raises(InputError, match=rf"{PLAN_VERSION + 1}.*optimiser 9.*up to {PLAN_VERSION}"):
        plan_from_json(json.dumps(found))


def test_loading_names_the_file(tmp_path: Path) -> None:
    """A missing file and one that is no UTF-8 are errors that name it; a good one loads."""
    path = tmp_path / "plan.json"
    with pytest.raises(InputError, match=r"plan\.json.*No such file"):
        load_plan(path)
    path.write_bytes(b'{"job": "\xff"}')
    with pytest.raises(InputError, match=r"plan\.json"):
        load_plan(path)
    path.write_text(plan_to_json(small_plan()), encoding="utf-8")
    assert load_plan(path) == small_plan()


def test_a_file_of_the_first_version_is_read() -> None:
    """A plan.json kept from version 1 gives a sound plan of the present version, every value in its place."""
    plan = load_plan(DATA / "plan-version-1.json")
    assert plan.version == PLAN_VERSION
    assert replace(plan, made_by="hand") == hand_made_plan()
    assert check_plan(plan).ok


def test_a_file_of_the_fourth_version_is_read() -> None:
    """Its rule "fill" meant as large as fits; the plan is sound, and nothing is cut off of its artwork."""
    plan = load_plan(DATA / "plan-version-4.json")
    assert (plan.version, [artwork.fit for artwork in plan.job.artworks]) == (PLAN_VERSION, ["inside"])
    assert check_plan(plan).ok


def test_a_file_of_the_third_version_is_read() -> None:
    """A plan.json of before loads and costs had limits is sound, and claims none."""
    plan = load_plan(DATA / "plan-version-3.json")
    assert (plan.version, len(plan.loads)) == (PLAN_VERSION, 5)
    assert (plan.loads_bound, plan.loads_proven, plan.cost) == (0, False, None)
    assert check_plan(plan).ok


def test_an_older_file_with_a_mistake_is_refused_at_its_place() -> None:
    """Bringing a file up to date hides no error in it."""
    found = json.loads((DATA / "plan-version-1.json").read_text(encoding="utf-8"))
    found["loads"][0]["focus_height"] = "high"
    with pytest.raises(InputError, match=r"loads\[0\]\.focus_height.*'high'"):
        plan_from_json(json.dumps(found))


@pytest.mark.parametrize("version", [0, -1, "1", None, 1.0])
def test_a_version_that_never_was_is_refused(version: object) -> None:
    """A version is a number that was given out."""
    found = json.loads(plan_to_json(small_plan())) | {"version": version}
    with pytest.raises(InputError, match="version"):
        plan_from_json(json.dumps(found))
