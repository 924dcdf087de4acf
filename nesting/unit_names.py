"""Units as people name them, by what the run sheet prints: order line and number, or load and pocket."""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property

from nesting.errors import InputError, Problem
from nesting.job.findings import nearest
from nesting.plan_values import Load, Plan, Unit
from nesting.words import listed, span

ALL = "all"
WHERE = "--units"
ALLOWED = "an order line with its units, 'LINE: 2, 4-6', or a load with its pockets, 'load 1: 2, 4-6'"

_LOAD = re.compile(r"load\s*(\d{1,9})\b[\s,:]*(?:pockets?\b)?[\s:]*(.*)", re.IGNORECASE | re.DOTALL)
_NUMBERS = re.compile(r"(?:[\s,:]|$)[\s,:]*(?:units?\b)?[\s:]*(.*)", re.IGNORECASE | re.DOTALL)
_DASH = re.compile(r"\s*[-\u2013]\s*")
_RANGE = re.compile(r"(\d{1,9})(?:-(\d{1,9}))?")

Spans = tuple[tuple[int, int], ...]
"""First and last of each run of numbers."""


def find_units(plan: Plan, names: Iterable[str | Unit]) -> tuple[Unit, ...]:
    """Find units of a plan by their names, each once, in the order in which they lie in the loads.

    Parameters
    ----------
    names
        Units, or texts: an order line with the numbers of its units, ``"C-1, unit 3"``, ``"C-1: 3-5, 8"``
        or ``"C-1: all"``; or a load with the numbers of its pockets, ``"load 2, pocket 4"`` or
        ``"load 2: 4, 6-9"``. Several are parted by semicolons.

    Raises
    ------
    InputError
        With every name that is no name of a placed unit, and what is allowed.
    """
    search = _Search(plan)
    wanted: set[Unit] = set()
    for name in names:
        wanted |= {name} & search.placed.keys() if isinstance(name, Unit) else set(search.named(name))
        if isinstance(name, Unit) and name not in search.placed:
            search.refuse(f"{name.line}, unit {name.number}", "no load of the plan holds this unit")
    if not wanted and not search.problems:
        search.refuse("", f"no unit is named; allowed: {ALLOWED}")
    if search.problems:
        raise InputError(search.problems)
    return tuple(unit for unit in search.placed if unit in wanted)


@dataclass(frozen=True)
class _Named:
    """One way to understand a text: an order line or a load, and the numbers of units or pockets."""

    line: str | None
    load: int | None
    numbers: Spans | None


class _Search:
    """Looks up names in a plan and keeps every problem."""

    def __init__(self, plan: Plan) -> None:
        self._plan = plan
        self.problems: list[Problem] = []

    @cached_property
    def placed(self) -> dict[Unit, Load]:
        """The units that lie in loads, in their order."""
        return {
            filling.unit: load
            for load in self._plan.loads
            for filling in sorted(load.fillings, key=lambda filling: filling.pocket)
        }

    def refuse(self, name: str, message: str) -> None:
        """Keep a problem."""
        self.problems.append(Problem("", WHERE, f"{name!r}: {message}" if name else message))

    def named(self, text: str) -> Iterator[Unit]:
        """Find the units that a text names."""
        for piece in self._pieces(text):
            found = list(self._understood(piece))
            if len(found) > 1:
                self.refuse(
                    piece,
                    "this names both a load's pockets and an order line's units; add 'pocket' or 'unit'",
                )
            elif not found:
                self._refuse_unknown(piece)
            elif found[0].line is not None:
                yield from self._of_line(piece, found[0].line, found[0].numbers)
            else:
                yield from self._of_load(piece, found[0].load or 0, found[0].numbers)

    def _pieces(self, text: str) -> list[str]:
        """Divide a text at its semicolons, unless an order line's name has one."""
        if any(";" in order.name for order in self._plan.job.orders) and any(self._understood(text)):
            return [text]
        return [piece.strip() for piece in text.split(";") if piece.strip()]

    def _understood(self, text: str) -> Iterator[_Named]:
        """Give every way to understand a text; the longest order line that begins it counts."""
        text = text.strip()
        names = sorted((order.name for order in self._plan.job.orders), key=len, reverse=True)
        for name in names:
            rest = _NUMBERS.fullmatch(text[len(name) :]) if text.startswith(name) else None
            numbers = spans(rest[1]) if rest else ()
            if numbers != ():
                yield _Named(name, None, numbers)
                break
        load = _LOAD.fullmatch(text)
        if load and spans(load[2]) != () and "unit" not in text.casefold():
            yield _Named(None, int(load[1]), spans(load[2]))

    def _refuse_unknown(self, piece: str) -> None:
        head = re.split(r"[:,]", piece)[0].strip()
        lines = [order.name for order in self._plan.job.orders]
        if head in lines:
            self.refuse(piece, f"no numbers of units follow; allowed: '{head}: 2, 4-6', or '{head}: {ALL}'")
        else:
            self.refuse(piece, f"not understood{nearest(head, lines)}; allowed: {ALLOWED}")

    def _of_line(self, piece: str, line: str, numbers: Spans | None) -> Iterator[Unit]:
        known = self._plan.order(line).unit_numbers
        there = [unit for unit in self.placed if unit.line == line]
        yield from (unit for unit in there if numbers is None or _within(unit.number, numbers))
        placed = {unit.number for unit in there}
        for low, high in numbers or ():
            # numbers that the line does not have are told from those that found no place
            if low not in known or high not in known or low > high:
                self.refuse(piece, f"found {span(low, high)}; allowed: {listed(known)}")
            elif lost := [number for number in known if low <= number <= high and number not in placed]:
                self.refuse(piece, f"{listed(lost)} of {line} found no place in this plan")
        if numbers is None and not there:
            self.refuse(piece, f"no unit of {line} found a place in this plan")

    def _of_load(self, piece: str, number: int, numbers: Spans | None) -> Iterator[Unit]:
        load = next((load for load in self._plan.loads if load.number == number), None)
        if load is None:
            self.refuse(piece, f"there is no load {number}; allowed: 1 to {len(self._plan.loads)}")
            return
        filled = {filling.pocket: filling.unit for filling in load.fillings}
        yield from (unit for pocket, unit in filled.items() if numbers is None or _within(pocket, numbers))
        for low, high in numbers or ():
            if low > high or low not in filled or high not in filled:
                message = f"found {span(low, high)}; filled in this load: {listed(sorted(filled))}"
                self.refuse(piece, message)


def spans(text: str) -> Spans | None:
    """Read numbers and ranges; None for all, empty for what is neither.

    >>> spans("2, 4-6"), spans("7"), spans("all"), spans("x"), spans("")
    (((2, 2), (4, 6)), ((7, 7),), None, (), ())
    """
    if text.strip().casefold() == ALL:
        return None
    found = [_RANGE.fullmatch(piece) for piece in re.split(r"[,\s]+", _DASH.sub("-", text).strip(" ,"))]
    return tuple((int(m[1]), int(m[2] or m[1])) for m in found if m) if all(found) else ()


def _within(number: int, numbers: Spans) -> bool:
    return any(low <= number <= high for low, high in numbers)
