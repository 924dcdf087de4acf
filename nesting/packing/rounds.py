"""How often pockets must be filled: loads by height, the least number of them, and a limit below it."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from nesting.job.job import Blank

SAME_FOCUS_MM = 0.5
"""Blanks whose heights differ by no more than this are marked in one load."""


@dataclass(frozen=True)
class HeightGroup:
    """Blanks that are marked at one focus height (mm above the bed)."""

    focus_height: float
    blanks: tuple[str, ...]


def height_groups(blanks: Sequence[Blank]) -> list[HeightGroup]:
    """Group blanks by height, lowest first; the focus of a group lies midway between its extremes."""
    groups: list[list[Blank]] = []
    for blank in sorted(blanks, key=lambda b: b.height):
        if groups and blank.height - groups[-1][0].height <= SAME_FOCUS_MM:
            groups[-1].append(blank)
        else:
            groups.append([blank])
    return [HeightGroup((g[0].height + g[-1].height) / 2, tuple(b.name for b in g)) for g in groups]


def fewest_loads(
    pockets: Sequence[Mapping[str, int]], wanted: Mapping[str, int], group: HeightGroup
) -> list[int] | None:
    """Find how often each sheet is loaded with a group so that every unit gets marked.

    Parameters
    ----------
    pockets
        For each sheet, how many pockets it has for each blank.
    wanted
        How many units there are of each blank.
    group
        The blanks to load.

    Returns
    -------
    Loads of each sheet, fewest in all; None if a blank has no pocket.

    Examples
    --------
    >>> fewest_loads([{"cup": 28}], {"cup": 280}, HeightGroup(75, ("cup",)))
    [10]
    >>> flat = HeightGroup(6, ("fob", "pen"))
    >>> fewest_loads([{"fob": 4, "pen": 1}, {"pen": 5}], {"fob": 8, "pen": 12}, flat)
    [2, 2]
    """
    names = [name for name in group.blanks if wanted.get(name)]
    if not all(any(sheet.get(name) for sheet in pockets) for name in names):
        return None
    if len(pockets) == 1:
        return [max((math.ceil(wanted[name] / pockets[0][name]) for name in names), default=0)]
    return _covering(pockets, {name: wanted[name] for name in names})


def _covering(pockets: Sequence[Mapping[str, int]], wanted: Mapping[str, int]) -> list[int]:
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    most = max(wanted.values(), default=0)
    loads = [model.new_int_var(0, most, f"sheet{k}") for k in range(len(pockets))]
    for name, count in wanted.items():
        model.add(sum(sheet.get(name, 0) * load for sheet, load in zip(pockets, loads, strict=True)) >= count)
    model.minimize(sum(loads))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.max_deterministic_time = 2.0
    status = solver.solve(model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return [most] * len(pockets)
    return [solver.value(load) for load in loads]


def split_rounds(total: int, areas: Sequence[float]) -> list[int]:
    """Share `total` loads between groups so that pockets for all of them take little room.

    `areas` are what the units of each group cover together. Pockets that are filled n times need an
    n-th of that, so the least room goes with loads in proportion to the square roots of the areas.

    >>> split_rounds(6, [400.0, 100.0])
    [4, 2]
    """
    roots = [math.sqrt(area) for area in areas]
    spare = total - len(areas)
    rounds = [1 + math.floor(spare * root / sum(roots)) for root in roots]
    while sum(rounds) < total:
        gains = [area / n - area / (n + 1) for area, n in zip(areas, rounds, strict=True)]
        rounds[gains.index(max(gains))] += 1
    return rounds


def loads_bound(
    areas: Mapping[str, float],
    wanted: Mapping[str, int],
    groups: Sequence[HeightGroup],
    room: float,
    sheets: int,
) -> int:
    """Limit the number of loads from below, by area.

    Parameters
    ----------
    areas
        Area in mm² that a pocket of each blank takes up at least.
    wanted
        Units of each blank.
    groups
        The blanks by height.
    room
        Area in mm² of the roomiest sheet.
    sheets
        How many sheets are cut.

    Notes
    -----
    On one sheet the groups share the room: with group g covering Q_g in all and loaded L_g times,
    the sum of Q_g / L_g is at most the room, and by Cauchy's inequality the sum of L_g is then at
    least (the sum of the roots of Q_g)² / room. With several sheets each load covers at most a
    sheet's room.

    Examples
    --------
    >>> loads_bound({"cup": 100.0}, {"cup": 280}, [HeightGroup(75, ("cup",))], 2850.0, 1)
    10
    """
    covered = [sum(areas[name] * wanted[name] for name in group.blanks) for group in groups]
    if sheets > 1:
        return max(sheets, sum(math.ceil(area / room - 1e-9) for area in covered))
    if len(groups) > 1:
        return max(len(groups), math.ceil(sum(map(math.sqrt, covered)) ** 2 / room - 1e-9))
    least = max(1, math.ceil(covered[0] / room - 1e-9))
    while sum(areas[name] * math.ceil(wanted[name] / least) for name in groups[0].blanks) > room * (1 + 1e-9):
        if least >= max(wanted.values()):
            break
        least += 1
    return least
