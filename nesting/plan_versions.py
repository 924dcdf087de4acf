"""Older versions of ``plan.json``, brought up to the present one step by step.

Version 1: 0.1.0 before its release. Version 2: options of formats in the job.
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
    >>> upgraded({"version": 1, "seed": 3}) == {"version": PLAN_VERSION, "seed": 3}
    True
    """
    version = found.get("version", 1)
    while isinstance(version, int) and 1 <= version < PLAN_VERSION:
        found = {**_STEPS.get(version, _nothing_moved)(found), "version": version + 1}
        version += 1
    return found


def _nothing_moved(found: Raw) -> Raw:
    return found


_STEPS: Mapping[int, Callable[[Raw], Raw]] = {}
"""By version, the step to the next one; none where everything kept its place."""
