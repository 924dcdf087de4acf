"""A document that may be wrong in places: the sound parts, so that the rest is still checked."""

from typing import Any, TypeVar

from pydantic import ValidationError

from nesting.job.document import JobDocument, Written
from nesting.job.findings import Findings, key_path
from nesting.job.job import OptionValue
from nesting.job.wording import worded
from nesting.units import MM_PER_UNIT

AnyWritten = TypeVar("AnyWritten", bound=Written)


class Draft:
    """The sound parts of a document.

    Parameters
    ----------
    raw
        The document as it was read.
    findings
        Where everything is noted that its models refuse.
    """

    def __init__(self, raw: dict[str, Any], findings: Findings) -> None:
        self.raw = raw
        unit = raw.get("unit", "mm")
        self.unit: str = unit if isinstance(unit, str) and unit in MM_PER_UNIT else "mm"
        try:
            document = JobDocument.model_validate(raw, context={"unit": self.unit})
            self.raw = document.model_dump(exclude_unset=True)
        except ValidationError as error:
            for path, message in worded(error, JobDocument):
                findings.add(key_path(*path), message)

    def items(self, key: str, model: type[AnyWritten]) -> dict[int, AnyWritten]:
        """Give the sound entries of a list, by their place in it."""
        read = {k: self._sound(entry, model) for k, entry in enumerate(self._list(key))}
        return {k: entry for k, entry in read.items() if entry is not None}

    def table(self, key: str, model: type[AnyWritten]) -> AnyWritten | None:
        """Give a table, if it is there and sound."""
        return self._sound(self.raw.get(key), model)

    def tables(self, key: str) -> dict[str, dict[str, OptionValue]]:
        """Give a table of tables, those in it that are none left out."""
        found = self.raw.get(key)
        tables = found.items() if isinstance(found, dict) else ()
        return {name: table for name, table in tables if isinstance(table, dict)}

    def names(self, key: str) -> dict[int, str]:
        """Give the names in a list of tables, also of those that are otherwise wrong, by their place."""
        entries = [(k, e.get("name")) for k, e in enumerate(self._list(key)) if isinstance(e, dict)]
        return {k: name for k, name in entries if isinstance(name, str)}

    def texts(self, key: str) -> tuple[str, ...]:
        """Give the texts in a list of texts."""
        return tuple(text for text in self._list(key) if isinstance(text, str))

    def _list(self, key: str) -> list[Any]:
        entries = self.raw.get(key)
        return list(entries) if isinstance(entries, list | tuple) else []

    def _sound(self, entry: Any, model: type[AnyWritten]) -> AnyWritten | None:
        try:
            return model.model_validate(entry, context={"unit": self.unit})
        except ValidationError:
            return None  # the whole document was validated before, and this was noted
