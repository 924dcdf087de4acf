"""What is settled before the marks are put in order: which way fills run, and which unit lies where.

Both are judged by the time that all sweeps take, rows of units swept together where that is faster.
"""

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from nesting.job.job import Machine, MarkSetting
from nesting.packing.sheet_plan import AssignedLoad
from nesting.packing.stop import Stop
from nesting.plan_values import Marking, Pocket, Unit
from nesting.routing.rows import Rows, rows_of
from nesting.routing.shapes import Block, Place
from nesting.routing.sharing import share_sweeps

LEAST_GAIN = 0.05
"""Seconds that a change must save."""

Marked = tuple[Place, str]
"""Where a unit lies, and the name of its marking."""


@dataclass(frozen=True)
class Sweeping:
    """How long sweeping takes on a machine; `settings` by the blank's name."""

    markings: Mapping[str, Marking]
    settings: Mapping[str, MarkSetting]
    machine: Machine

    def seconds(self, load: Sequence[Marked], stop: Stop) -> float:
        """Estimate the time of all sweeps of a load."""
        fills: defaultdict[str, list[Rows | None]] = defaultdict(list)
        settings: dict[str, MarkSetting] = {}
        for place, name in load:
            setting = self.settings[self.markings[name].blank]
            settings[setting.name] = setting
            fills[setting.name] += [
                rows_of(Block(part.sweeps, setting.speed, setting.passes, place))
                for part in self.markings[name].parts
                if part.sweeps
            ]
        total = 0.0
        for setting_name, rows in fills.items():
            setting = settings[setting_name]
            _, seconds, effort = share_sweeps(rows, setting.speed, self.machine, setting.passes)
            stop.spend(effort)
            total += seconds
        return total


def choose_directions(
    loads: Sequence[Sequence[Marked]], sweeping: Sweeping, across: Mapping[str, Marking], stop: Stop
) -> dict[str, Marking]:
    """Choose for each marking the direction of its fills that takes less time in all loads.

    Parameters
    ----------
    loads
        What is marked in each.
    sweeping
        With the markings in the one direction.
    across
        The same markings in the other direction, as far as there is a choice.
    """
    chosen = dict(sweeping.markings)
    counts = Counter(tuple(sorted(load)) for load in loads)
    for name, other in across.items():
        used = {load: count for load, count in counts.items() if any(marked[1] == name for marked in load)}
        if other.parts == chosen[name].parts or not used or stop.reached:
            continue
        trial = {**chosen, name: other}
        now, then = (
            sum(count * replace(sweeping, markings=m).seconds(load, stop) for load, count in used.items())
            for m in (chosen, trial)
        )
        if then < now - LEAST_GAIN:
            chosen = trial
    return chosen


def arrange_units(
    load: AssignedLoad,
    pockets: Mapping[int, Pocket],
    marking_of: Mapping[str, str | None],
    sweeping: Sweeping,
    stop: Stop,
) -> AssignedLoad:
    """Exchange units of one blank so that those with one marking lie in a row, if that saves time.

    Parameters
    ----------
    load
        As units were assigned.
    pockets
        The sheet's pockets by number.
    marking_of
        The marking, by order line.
    """
    names = {(pockets[number].blank, marking_of[unit.line]) for number, unit in load.units}
    if len(names) == len({blank for blank, _ in names}) or stop.reached:
        return load

    def seconds(units: Sequence[tuple[int, Unit]]) -> float:
        return sweeping.seconds(marked(units, pockets, marking_of), stop)

    options = [load.units, *(_in_rows(load, pockets, marking_of, along) for along in "xy")]
    times = [seconds(units) for units in options]
    best = min(range(len(options)), key=times.__getitem__)
    return replace(load, units=options[best]) if times[best] < times[0] - LEAST_GAIN else load


def marked(
    units: Sequence[tuple[int, Unit]], pockets: Mapping[int, Pocket], marking_of: Mapping[str, str | None]
) -> list[Marked]:
    """List where units lie with what marking, those without one left out."""
    found = []
    for number, unit in units:
        pocket, name = pockets[number], marking_of[unit.line]
        if name is not None:
            found.append(((pocket.x, pocket.y, pocket.turn), name))
    return found


def _in_rows(
    load: AssignedLoad, pockets: Mapping[int, Pocket], marking_of: Mapping[str, str | None], along: str
) -> tuple[tuple[int, Unit], ...]:
    """Fill the pockets of each blank row by row (along x) or column by column, marking after marking."""
    numbers: defaultdict[str, list[int]] = defaultdict(list)
    units: defaultdict[str, list[Unit]] = defaultdict(list)
    for number, unit in load.units:
        numbers[pockets[number].blank].append(number)
        units[pockets[number].blank].append(unit)
    pairs: list[tuple[int, Unit]] = []
    for blank, places in numbers.items():
        keys = {
            n: (pockets[n].y, pockets[n].x) if along == "x" else (pockets[n].x, pockets[n].y) for n in places
        }
        counts = Counter(marking_of[unit.line] for unit in units[blank])
        wanted = sorted(
            units[blank],
            key=lambda u: (-counts[marking_of[u.line]], marking_of[u.line] or "", u.line, u.number),
        )
        pairs += zip(sorted(places, key=keys.__getitem__), wanted, strict=True)
    return tuple(sorted(pairs, key=lambda pair: pair[0]))
