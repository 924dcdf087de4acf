"""The JSON Schema of the job document, for editors and other programs."""

from typing import Any

from nesting.job.document import JobDocument

DIALECT = "https://json-schema.org/draft/2020-12/schema"
"""The version of JSON Schema that is written (JSON Schema Core 2020-12, section 8.1.1)."""


def job_schema() -> dict[str, Any]:
    """Make the schema of the job document; TOML of the same tables and lists fits it too.

    Examples
    --------
    >>> job_schema()["required"]
    ['title', 'machine', 'settings', 'stock', 'blanks']
    """
    return {"$schema": DIALECT, **JobDocument.model_json_schema()}
