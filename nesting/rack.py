"""The rack: sheets that were cut are kept, and cost nothing to use again.

A sheet's loads are counted when its plan is added, once it was worked off: planning alone reads a rack.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from hashlib import sha256
from pathlib import Path
from typing import cast

from nesting import _plugins
from nesting.errors import InputError
from nesting.job.job import KeptSheet
from nesting.kept_sheets import kept_sheets, loads_on
from nesting.plan_file import plan_to_json
from nesting.plan_values import Plan
from nesting.ports import RackSheet, RackStore


@dataclass(frozen=True)
class Added:
    """What adding a plan did: names of new sheets by those in the plan, and loads counted on others."""

    new: dict[str, str]
    loads: dict[str, int]


def read_rack(path: str | Path) -> tuple[KeptSheet, ...]:
    """Read the sheets on a rack that are in use, in the order in which they came.

    Raises
    ------
    nesting.errors.InputError
        If there is no such file, or it is no rack, damaged or of a newer version.
    """
    return tuple(entry.kept for entry in whole_rack(path) if entry.retired is None)


def whole_rack(path: str | Path) -> tuple[RackSheet, ...]:
    """Read every sheet on a rack, those that are retired too.

    Raises
    ------
    nesting.errors.InputError
        As `read_rack`.
    """
    return _store(path).read(Path(path))


def add_to_rack(
    path: str | Path,
    plan: Plan | None = None,
    *,
    kerf: float | None = None,
    cut_on: date | None = None,
    again: bool = False,
) -> Added:
    """Keep the sheets that a plan cuts, and count its loads on every sheet; make the rack if there is none.

    Parameters
    ----------
    path
        The rack.
    plan
        A plan that was worked off; without one the rack is only made.
    kerf
        Width in mm that the beam removed, as measured; None if it is as planned.
    cut_on
        When the sheets were cut; today if None.
    again
        Count a plan that was added before once more, for it was worked off once more.

    Raises
    ------
    nesting.errors.InputError
        As `read_rack`; if the plan is unsound, was added before, or loads kept sheets of another rack.
        The rack is as it was then.
    """
    store, day = _store(path), cut_on or date.today()
    if plan is None:
        if not Path(path).exists():
            store.add(Path(path), (), source="", today=day, again=True)
        else:
            store.read(Path(path))
        return Added({}, {})
    _require_sound(plan)
    loads, there = loads_on(plan), {sheet.name: sheet for sheet in plan.job.kept}
    loaded = [(there[name], loads[name]) for name in dict.fromkeys(sheet.stock for sheet in plan.kept)]
    source = sha256(plan_to_json(plan).encode()).hexdigest()
    new = kept_sheets(plan, kerf=kerf, cut_on=day)
    names, counted = store.add(Path(path), new, loaded, source=source, today=day, again=again)
    more: Counter[str] = Counter()
    for name, (_, count) in zip(counted, loaded, strict=True):
        more[name] += count
    return Added(dict(zip((sheet.name for sheet in new), names, strict=True)), dict(more))


def retire_from_rack(path: str | Path, names: Sequence[str], *, today: date | None = None) -> None:
    """Take sheets out of use; their entries stay on the rack.

    Raises
    ------
    nesting.errors.InputError
        As `read_rack`; if there is no sheet of a name, or it is retired. Nothing is retired then.
    """
    _store(path).retire(Path(path), names, today=today or date.today())


def _store(path: str | Path) -> RackStore:
    suffix = Path(path).suffix
    store = _plugins.load_for_suffix("racks", suffix)
    if store is None:
        allowed = ", ".join(_plugins.suffixes("racks")) or "none, for no kind of rack is installed"
        message = f"found a rack ending in {suffix!r}; allowed: {allowed}"
        raise InputError.single(message, file=str(path))
    return cast("RackStore", store)


def _require_sound(plan: Plan) -> None:
    from nesting.check import check_plan

    report = check_plan(plan)
    if not report.ok:
        message = f"the plan is unsound, and what it cuts is not kept: {report.violations[0]}"
        raise InputError.single(message)
