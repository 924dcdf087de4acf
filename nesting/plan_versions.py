"""Older versions of ``plan.json``, brought up to the present one step by step.

Version 1: 0.1.0 before its release. Version 2: options of formats in the job.
Version 3: several artworks on a unit, each with its place and parts.
Version 4: limits on loads and cost, kept sheets, several focus heights in a load; older files have none.
Version 5: an artwork's rule "fill" covers the mark area; as large as fits, its meaning before, is "inside".
"""

from collections.abc import Callable, Mapping
from typing import Any

from nesting.plan_values import PLAN_VERSION

Raw = dict[str, Any]


def upgraded(found: Raw) -> Raw:
    """Bring what was read from a file of an older version into the shape of the present one.

    Only what changed its place or name needs a step; what is new and has a default does not.
    What is damaged is left as it is, for the reader to name.

    Parameters
    ----------
    found
        The file's object; it is not changed.

    Examples
    --------
    >>> upgraded({"version": 1, "seed": 3, "markings": []}) == {"version": 5, "seed": 3, "markings": []}
    True
    """
    version = found.get("version", 1)
    while isinstance(version, int) and 1 <= version < PLAN_VERSION:
        found = {**_STEPS.get(version, _nothing_moved)(found), "version": version + 1}
        version += 1
    return found


def _nothing_moved(found: Raw) -> Raw:
    return found


def _several_artworks(found: Raw) -> Raw:
    """Put the one artwork of a marking and of an order line into a list."""
    job = found.get("job")
    changed = {**found, "markings": _each(found.get("markings"), _placed)}
    if isinstance(job, dict):
        changed["job"] = {
            **job,
            "artworks": _each(job.get("artworks"), lambda a: _renamed(a, "drawing", "content")),
            "orders": _each(job.get("orders"), _listed),
        }
    return changed


def _as_large_as_fits(found: Raw) -> Raw:
    """Name the rule of artworks that are as large as fits by its present word."""
    job = found.get("job")
    if not isinstance(job, dict):
        return found
    return {**found, "job": {**job, "artworks": _each(job.get("artworks"), _inside)}}


def _inside(artwork: Raw) -> Raw:
    return {**artwork, "fit": "inside"} if artwork.get("fit") == "fill" else artwork


def _placed(marking: Raw) -> Raw:
    kept = {key: value for key, value in marking.items() if key in ("name", "blank")}
    return {**kept, "placed": [{key: value for key, value in marking.items() if key not in kept}]}


def _listed(order: Raw) -> Raw:
    moved = _renamed(order, "artwork", "artworks")
    artwork = order.get("artwork")
    return {**moved, "artworks": [] if artwork is None else [artwork]} if "artwork" in order else moved


def _renamed(table: Raw, old: str, new: str) -> Raw:
    return {new if key == old else key: value for key, value in table.items()}


def _each(tables: Any, change: Callable[[Raw], Raw]) -> Any:
    """Change every table of a list; anything else is left for the reader to name."""
    if not isinstance(tables, list):
        return tables
    return [change(table) if isinstance(table, dict) else table for table in tables]


_STEPS: Mapping[int, Callable[[Raw], Raw]] = {2: _several_artworks, 4: _as_large_as_fits}
"""By version, the step to the next one; none where everything kept its place."""
