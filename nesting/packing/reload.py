"""Sheets that are loaded again and again: the fewest loads on a given number of sheets.

A model says which pocket counts would do with so many loads and leave the sheets as empty as can be;
packing says whether those pockets fit. What fits gives a plan, what does not is kept in mind, and the
number of loads aimed at is halved between what is reached and what is known to be impossible.
"""

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace

from nesting.packing.cp import Answer
from nesting.packing.fitting import Counts, Fitted, Fitting
from nesting.packing.master import Chosen, Limits, Slots, Wanted, choose, plain
from nesting.packing.stop import Stop

LIKELY_FILL = 0.8
"""Share of a sheet's room that a first try expects packing to fill."""

MOST_TRIES = 60
TRIES_EACH = 4
"""Different pocket counts tried for one number of loads before it is given up."""

MODEL_SECONDS, MODEL_SHARE = 3.0, 0.1
"""Most time, or effort, for one model, and its share of what is left: packing needs the most of it."""

MODEL_LEAST, MODEL_LATE = 0.05, 0.3
"""What a model has in any case; and where the time is up, or layouts that are known need only be chosen."""


@dataclass(frozen=True)
class Reloaded:
    """A choice of layouts, and the number of loads that no choice of as many sheets can pass below.

    `gap` says what stands between the two, as far as that is known.
    """

    chosen: Chosen
    bound: int
    gap: str = ""


class Reloading:
    """Searches for few loads on up to `count` sheets of which there are `pieces` of each kind."""

    def __init__(self, fitting: Fitting, wanted: Wanted, count: int, pieces: Sequence[int | None]) -> None:
        self.fitting, self.wanted, self.count, self.pieces = fitting, wanted, count, tuple(pieces)
        self.stop = fitting.packer.stop
        self.missed: dict[int, list[tuple[int, Counts]]] = {}

    def fewest_loads(self) -> Reloaded | None:
        """Search from the layouts that are known already; None if those do not take every blank."""
        best = self._from_known() or plain(self.fitting.known, self.wanted)
        if best is None:
            return None
        bound = self.bound()
        self._tell(best, bound)
        best = self._searched(best, bound)
        if best.loads > bound and any(failed.proven for failed in self.fitting.failed):
            bound = max(bound, self.bound())
        return Reloaded(best, min(bound, best.loads), self._gap(best.loads) if best.loads > bound else "")

    def bound(self) -> int:
        """Limit the number of loads from below by what is proven not to fit."""
        model = Slots(self.wanted.loosest, self._limits(proven=True), self.count)
        with self._while() as part:
            return model.least_loads(part, MODEL_SECONDS)

    def _searched(self, best: Chosen, low: int) -> Chosen:
        guess, proven = self._guess(), low
        tries, packed = Counter[int](), False
        for _ in range(MOST_TRIES):
            # the layouts that are there at first are poor: packing is asked once however late it is
            over = self.stop.reached if packed else self.stop.cancelled()
            if low >= best.loads or over or not self.count:
                break
            target = min(max(guess, low), best.loads - 1)
            tries[target] += 1
            fits = self._try(target, best, 1 / (3 + math.log2(best.loads - low + 1)), tries[target])
            packed = packed or fits is not None
            better = self._from_known()
            if better is not None and better.loads < best.loads:
                best = better
                self._tell(best, proven)
            if fits is None or (not fits and tries[target] >= TRIES_EACH):
                low = target + 1
            if fits is not False or tries[target] >= TRIES_EACH:
                guess = (low + best.loads) // 2
        return best

    def _tell(self, best: Chosen, bound: int) -> None:
        told = f"sheets: {len(best.layouts)}, loads: {best.loads} (at least {min(bound, best.loads)})"
        self.fitting.packer.progress(told)

    def _try(self, loads: int, best: Chosen, share: float, times: int) -> bool | None:
        """Ask for layouts that do with so many loads; None if there can be none, as far as is known."""
        apart = self._apart(best) if times > TRIES_EACH // 2 and self.count > 1 else None
        model = Slots(self.wanted, self._limits(proven=False), self.count, apart)
        with self._while() as part:
            answer, asked = model.easiest(loads, part, MODEL_SECONDS)
        if answer is not Answer.FOUND:
            return None if apart is None else False
        if all(self.fitting.ask(kind, counts, share / len(asked)) is not None for kind, counts in asked):
            return True
        self.missed[loads] = asked
        return False

    def _gap(self, reached: int) -> str:
        """Say which pockets it would take to have fewer loads than are reached."""
        loads = max((loads for loads in self.missed if loads < reached), default=None)
        if loads is None:
            return "the time was too short to look for layouts that take fewer"
        sheets = [
            ", ".join(f"{n} {name}" for n, name in zip(counts, self.wanted.names, strict=True) if n)
            for _, counts in self.missed[loads]
        ]
        found = f"{loads} loads would take pockets for {' and, on another sheet, for '.join(sheets)}"
        return f"{found}; no place was found for all of these, which does not prove that there is none"

    def _apart(self, best: Chosen) -> list[frozenset[int]]:
        """Keep the blanks to the sheets that have pockets for them now."""
        spread = [frozenset(k for k, n in enumerate(f.counts) if n) for f, _ in best.layouts]
        everything = frozenset(range(len(self.wanted.names)))
        return [*spread, *[everything] * self.count][: self.count]

    def _from_known(self) -> Chosen | None:
        with self._while(MODEL_LATE) as part:
            return choose(self.fitting.known, self.wanted, self.count, self.pieces, part, MODEL_SECONDS)

    @contextmanager
    def _while(self, least: float = MODEL_LEAST) -> Iterator[Stop]:
        """Give a model its time."""
        part = self.stop.part(MODEL_SHARE, MODEL_LATE if self.stop.reached else least)
        yield part
        self.stop.spend(part.spent)

    def _guess(self) -> int:
        limits = self._limits(proven=True)
        fuller = replace(limits, rooms=[room * LIKELY_FILL for room in limits.rooms])
        with self._while() as part:
            return Slots(self.wanted, fuller, self.count).least_loads(part, MODEL_SECONDS)

    def _limits(self, *, proven: bool) -> Limits:
        failed = [f for f in self.fitting.failed if f.proven or not proven]
        return Limits(self.fitting.areas, self.fitting.rooms, self.fitting.most, self.pieces, failed)


def trimmed(chosen: Chosen, wanted: Wanted, fitting: Fitting) -> Chosen:
    """Leave out pockets that no load needs."""
    layouts = list(chosen.layouts)
    for i, (fitted, often) in enumerate(layouts):
        counts = list(fitted.counts)
        for k in range(len(counts)):
            counts[k] -= _spare(k, i, layouts, chosen, wanted)
        thinned = fitting.ask(fitted.sheet, tuple(counts), 0.0) if any(counts) else None
        layouts[i] = (thinned or fitted, often)
    return replace(chosen, layouts=tuple(layouts))


def _spare(
    k: int, i: int, layouts: Sequence[tuple[Fitted, tuple[int, ...]]], chosen: Chosen, wanted: Wanted
) -> int:
    """Count the pockets for item k on layout i that can be left out."""
    spare = layouts[i][0].counts[k]
    for claim, units in wanted.units.items():
        if claim[0] != wanted.names[k]:
            continue
        inside = [g for g, group in enumerate(wanted.groups) if claim in group.claims]
        rows = [(f.counts[k], often) for f, often in layouts]
        rows += [(counts[k], often) for counts, often in zip(wanted.kept, chosen.kept, strict=True)]
        room = sum(n * often[g] for n, often in rows for g in inside)
        each = sum(layouts[i][1][g] for g in inside)
        if each:
            spare = min(spare, (room - units) // each)
    return spare


def on_smaller_stock(chosen: Chosen, fitting: Fitting, pieces: Sequence[int | None], share: float) -> Chosen:
    """Move layouts to smaller kinds of sheet where their pockets fit there too."""
    layouts = list(chosen.layouts)
    sizes = [sheet.region.area for sheet in fitting.sheets]
    for i, (fitted, often) in enumerate(layouts):
        for t in sorted(range(len(sizes)), key=lambda t: sizes[t]):
            used = sum(f.sheet == t for f, _ in layouts)
            left = pieces[t] is None or used < (pieces[t] or 0)
            if sizes[t] >= sizes[fitted.sheet] - 1e-6:
                break
            if not left or not _may_fit(fitted, t, fitting) or fitting.packer.stop.reached:
                continue
            found = fitting.ask(t, fitted.counts, share)
            if found is not None:
                layouts[i] = (found, often)
                break
    return replace(chosen, layouts=tuple(layouts))


def _may_fit(fitted: Fitted, sheet: int, fitting: Fitting) -> bool:
    area = sum(n * area for n, area in zip(fitted.counts, fitting.areas, strict=True))
    within = all(n <= most for n, most in zip(fitted.counts, fitting.most[sheet], strict=True))
    return within and area <= fitting.rooms[sheet] * (1 + 1e-9)
