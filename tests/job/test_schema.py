import json
import tomllib
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from nesting import examples
from nesting.job.schema import job_schema

BAD = Path(__file__).parent / "bad"
REFUSED_BY_SHAPE_ALONE = [
    "title_missing.toml", "unknown_key.toml", "unknown_shape.toml", "shape_left_out.toml",
    "negative_width.toml", "zero_diameter.toml", "unit_unknown.toml", "quantity_zero.toml",
    "quantity_fraction.toml", "quantity_huge.toml", "no_blanks.toml", "turns_far.toml", "polygon_pairs.toml",
]  # fmt: skip


def document(path: Path) -> Any:
    """Read a document as JSON has it: a date is its ISO text."""
    return json.loads(json.dumps(tomllib.loads(path.read_text(encoding="utf-8")), default=str))


def test_the_schema_is_one_of_its_dialect() -> None:
    """The schema names JSON Schema 2020-12 and fits that dialect's own schema."""
    schema = job_schema()
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    Draft202012Validator.check_schema(schema)


@pytest.mark.parametrize("name", examples.names())
def test_each_example_fits_the_schema(name: str) -> None:
    """The packaged jobs are what the schema describes."""
    path = Path(examples.__file__).parent / name / "job.toml"
    assert list(Draft202012Validator(job_schema()).iter_errors(document(path))) == []


@pytest.mark.parametrize("name", REFUSED_BY_SHAPE_ALONE)
def test_a_wrong_document_does_not_fit_the_schema(name: str) -> None:
    """What the reader refuses for its form, the schema refuses too."""
    assert not Draft202012Validator(job_schema()).is_valid(document(BAD / name))


def test_every_key_is_described() -> None:
    """Each key of the document's top level and of its machine says what it is for."""
    schema = job_schema()
    for table in (schema, schema["$defs"]["MachineDocument"], schema["$defs"]["BlankDocument"]):
        assert all("description" in value for value in table["properties"].values())
