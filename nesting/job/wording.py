"""What the document's models refuse, said in our own words and at the key path the user wrote."""

from collections.abc import Iterator
from typing import Any, get_args

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from nesting.job.fields import shown
from nesting.job.findings import nearest

Model = type[BaseModel]

_KINDS = {
    "string_type": "text in quotes",
    "string_unicode": "text of valid Unicode characters",
    "int_type": "a whole number",
    "float_type": "a number",
    "finite_number": "a finite number",
    "bool_type": "true or false",
    "tuple_type": "a list",
    "list_type": "a list",
    "dict_type": "a table",
    "model_type": "a table",
    "model_attributes_type": "a table",
    "greater_than": "a number above {gt:,.10g}",
    "greater_than_equal": "a number of {ge:,.10g} or more",
    "less_than_equal": "a number of at most {le:,.10g}",
    "string_too_short": "text of {min_length} characters or more",
    "string_too_long": "text of at most {max_length} characters",
    "too_short": "at least {min_length}",
    "too_long": "at most {max_length}",
    "literal_error": "{expected}",
}
_NO_SHAPE = ("union_tag_invalid", "union_tag_not_found")


def worded(error: ValidationError, root: Model) -> Iterator[tuple[tuple[str | int, ...], str]]:
    """Give key path and message for each thing that a model refused.

    Parameters
    ----------
    error
        What the model raised.
    root
        The model that raised it.
    """
    for details in error.errors(include_url=False):
        if details["type"] == "too_short" and len(details["input"]) >= details["ctx"]["min_length"]:
            continue  # the entries are there, but wrong, which is reported at each of them
        path, models = _walk(details["loc"], root)
        yield (*path, "shape") if details["type"] in _NO_SHAPE else path, _message(details, models)


def _message(details: ErrorDetails, models: list[Model]) -> str:
    kind, found = details["type"], details["input"]
    ctx: dict[str, Any] = details.get("ctx", {})
    if kind == "own_words":
        return str(ctx["words"])
    if kind == "missing":
        return f"missing; needed: {_purpose(details['loc'][-1], models)}"
    if kind == "extra_forbidden":
        keys = [key for model in models for key in model.model_fields]
        return f"unknown key {shown(details['loc'][-1])}{nearest(str(details['loc'][-1]), keys)}"
    if kind in _NO_SHAPE:
        return f"found {shown(found.get('shape'))}; allowed: {_tags(models)}"
    seen = f"a list of {len(found)}" if kind in ("too_short", "too_long") else shown(found)
    return f"found {seen}; allowed: {_KINDS.get(kind, 'another kind of value').format_map(ctx)}"


def _purpose(key: str | int, models: list[Model]) -> str:
    described = [m.model_fields[key].description for m in models if key in m.model_fields]
    return next(filter(None, described), "a value")


def _walk(loc: tuple[str | int, ...], root: Model) -> tuple[tuple[str | int, ...], list[Model]]:
    """Follow a location through the models: the path without union tags, and the models at its end.

    For a key that is missing or unknown, the models are those that the key should belong to.
    """
    models, owners, path = [root], [root], []
    for part in loc:
        tagged = [m for m in models if len(models) > 1 and part == _tag(m)]
        if tagged:
            models = owners = tagged
        elif part != "[key]":
            path.append(part)
            if not isinstance(part, int):
                owners = models
                models = [n for m in models for n in _models_of(m, part)]
    return tuple(path), models or owners


def _models_of(model: Model, key: str) -> list[Model]:
    field = model.model_fields.get(key)
    return list(_models_in(field.annotation)) if field else []


def _models_in(annotation: Any) -> Iterator[Model]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for inner in get_args(annotation):
        yield from _models_in(inner)


def _tag(model: Model) -> str | None:
    field = model.model_fields.get("shape")
    return get_args(field.annotation)[0] if field else None


def _tags(models: list[Model]) -> str:
    return ", ".join(repr(tag) for tag in map(_tag, models) if tag)
