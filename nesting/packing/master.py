"""The choice of layouts and loads as models for CP-SAT: over layouts that are known, or any that may be.

Known layouts give a plan. Layouts that only keep to limits (area, most of a kind, counts that are
known to fail) give a lower bound, and the pocket counts that are worth a try.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

from nesting.packing.cp import Answer, solve
from nesting.packing.fitting import SCALE, Counts, Failed, Fitted, share_of
from nesting.packing.load_groups import Claim, Group
from nesting.packing.stop import Stop

MONEY = 10_000
"""Costs in a model's whole numbers."""

if TYPE_CHECKING:
    from ortools.sat.python import cp_model


@dataclass(frozen=True)
class Wanted:
    """Units to be marked: how many of each claim, what may share a load, and whose pockets are whose.

    Attributes
    ----------
    names
        The blanks in the order in which pockets are counted.
    units
        Units of each claim.
    groups
        What may share a load.
    kept
        Pockets of each way to fill a sheet that is at hand and need not be cut.
    kept_most
        For each sheet at hand, pockets of each blank that no way to fill it exceeds.
    """

    names: tuple[str, ...]
    units: Mapping[Claim, int]
    groups: tuple[Group, ...]
    kept: tuple[Counts, ...] = ()
    kept_most: tuple[Counts, ...] = ()

    @property
    def loosest(self) -> "Wanted":
        """The same with sheets at hand that hold no less than they do, whichever way: for limits."""
        return replace(self, kept=self.kept_most)

    @property
    def most_loads(self) -> int:
        """No sheet needs to be loaded more often than this with one group."""
        return max(self.units.values())


@dataclass(frozen=True)
class Limits:
    """What is known of layouts that need not exist: see `nesting.packing.fitting.Fitting`.

    `areas` of a pocket and `rooms` of a kind of sheet in mm², `most` pockets of each item on each kind
    of sheet, `pieces` how many there are of each kind (None: no limit), `failed` counts.
    """

    areas: Sequence[float]
    rooms: Sequence[float]
    most: Sequence[Sequence[int]]
    pieces: Sequence[int | None]
    failed: Sequence[Failed] = ()


@dataclass(frozen=True)
class Chosen:
    """Layouts to cut, each with its loads by group; the same loads for each way to fill a kept sheet."""

    layouts: tuple[tuple[Fitted, tuple[int, ...]], ...]
    kept: tuple[tuple[int, ...], ...] = ()

    @property
    def loads(self) -> int:
        """Loads in all."""
        return sum(sum(n) for _, n in self.layouts) + sum(map(sum, self.kept))


@dataclass(frozen=True)
class Prices:
    """What a sheet of each kind (without pockets), a pocket of each item, and a load of each group cost."""

    sheets: Sequence[float]
    pockets: Sequence[float]
    loads: Sequence[float]

    def of(self, fitted: Fitted) -> float:
        """Price a sheet with its pockets."""
        return self.sheets[fitted.sheet] + sum(
            n * c for n, c in zip(fitted.counts, self.pockets, strict=True)
        )

    def total(self, chosen: Chosen) -> float:
        """Add up sheets, pockets and loads."""
        rows = [*(n for _, n in chosen.layouts), *chosen.kept]
        loads = sum(n * price for row in rows for n, price in zip(row, self.loads, strict=True))
        return sum(self.of(fitted) for fitted, _ in chosen.layouts) + loads


def choose(
    pool: Sequence[Fitted],
    wanted: Wanted,
    most_sheets: int,
    pieces: Sequence[int | None],
    stop: Stop,
    seconds: float = 2.0,
    prices: Prices | None = None,
) -> Chosen | None:
    """Choose among known layouts: fewest loads on at most so many sheets or, with prices, the least cost.

    None if they do not suffice. Among plans with the same loads the fewest sheets are taken, and then
    the fewest ways to fill kept ones.
    """
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    cut, fetched = ([model.new_bool_var("") for _ in some] for some in (pool, wanted.kept))
    often, again = (
        [[_loads_var(model, wanted) for _ in wanted.groups] for _ in some] for some in (pool, wanted.kept)
    )
    for row, taken in zip([*often, *again], [*cut, *fetched], strict=True):
        for n in row:
            model.add(n == 0).only_enforce_if(~taken)
    model.add(sum(cut) <= most_sheets)
    for t, count in enumerate(pieces):
        if count is not None:
            model.add(sum(c for c, fitted in zip(cut, pool, strict=True) if fitted.sheet == t) <= count)
    rows = [*zip((f.counts for f in pool), often, strict=True), *zip(wanted.kept, again, strict=True)]
    for claim, units in wanted.units.items():
        k = wanted.names.index(claim[0])
        inside = [g for g, group in enumerate(wanted.groups) if claim in group.claims]
        model.add(sum(counts[k] * row[g] for counts, row in rows for g in inside) >= units)
    if prices is None:
        least = (len(pool) + 1) * sum(sum(row) for _, row in rows) + sum(cut)
    else:
        loads = [sum(row[g] for _, row in rows) for g in range(len(wanted.groups))]
        each = [round(price * MONEY) for price in prices.loads]
        costs = [round(prices.of(fitted) * MONEY) for fitted in pool]
        least = sum(c * n for c, n in zip(each, loads, strict=True))
        least += sum(c * y for c, y in zip(costs, cut, strict=True))
    model.minimize((len(fetched) + 1) * least + sum(fetched))
    answer, solver = solve(model, stop, seconds)
    if answer is not Answer.FOUND:
        return None
    layouts = [(fitted, tuple(solver.value(n) for n in row)) for fitted, row in zip(pool, often, strict=True)]
    return Chosen(
        tuple((f, n) for f, n in layouts if any(n)),
        tuple(tuple(solver.value(n) for n in row) for row in again),
    )


def plain(pool: Sequence[Fitted], wanted: Wanted) -> Chosen | None:
    """Load every blank on the first sheet that has pockets for it: a plan that takes no time to find.

    Sheets at hand come first. None if there are no pockets for one of the blanks.
    """
    units: Counter[tuple[int, int, int]] = Counter()
    layouts = [*wanted.kept, *(fitted.counts for fitted in pool)]
    for claim, count in wanted.units.items():
        k = wanted.names.index(claim[0])
        layout = next((i for i, counts in enumerate(layouts) if counts[k]), None)
        if layout is None:
            return None
        group = next(g for g, group in enumerate(wanted.groups) if claim in group.claims)
        units[layout, group, k] += count
    often = [[0] * len(wanted.groups) for _ in layouts]
    for (i, g, k), count in units.items():
        often[i][g] = max(often[i][g], -(-count // layouts[i][k]))
    again, cut = often[: len(wanted.kept)], often[len(wanted.kept) :]
    chosen = tuple((fitted, tuple(row)) for fitted, row in zip(pool, cut, strict=True) if any(row))
    return Chosen(chosen, tuple(map(tuple, again)))


def fewer(model: "cp_model.CpModel", pockets: Sequence[Any], failed: Failed) -> list[Any]:
    """Make literals of which one must hold: that there are fewer pockets of some item than failed."""
    literals = []
    for variable, count in zip(pockets, failed.counts, strict=True):
        if count:
            less = model.new_bool_var("")
            model.add(variable <= count - 1).only_enforce_if(less)
            literals.append(less)
    return literals


def _loads_var(model: "cp_model.CpModel", wanted: Wanted) -> Any:
    return model.new_int_var(0, wanted.most_loads, "")


@dataclass
class Slots:
    """A model of `count` sheets with any pockets within limits, loaded any number of times.

    Attributes
    ----------
    apart
        For each slot the items that may have pockets there; None lets all.
    """

    wanted: Wanted
    limits: Limits
    count: int
    apart: Sequence[frozenset[int]] | None = None
    model: Any = field(init=False)

    def __post_init__(self) -> None:
        from ortools.sat.python import cp_model

        self.model = cp_model.CpModel()
        kinds, items = range(len(self.limits.rooms)), range(len(self.wanted.names))
        largest = [max(self.limits.most[t][k] for t in kinds) for k in items]
        self.kinds = [[self.model.new_bool_var("") for _ in kinds] for _ in range(self.count)]
        self.pockets = [
            [
                self.model.new_int_var(0, largest[k] if self.apart is None or k in self.apart[s] else 0, "")
                for k in items
            ]
            for s in range(self.count)
        ]
        self.often, self.again = (
            [[_loads_var(self.model, self.wanted) for _ in self.wanted.groups] for _ in some]
            for some in (self.pockets, self.wanted.kept)
        )
        self._add_stock()
        for s in range(self.count):
            self._add_room(s)
        self._add_cover(largest)
        for earlier, later in zip(self.often, self.often[1:], strict=False):
            if self.apart is None:
                self.model.add(sum(earlier) >= sum(later))

    @property
    def loads(self) -> Any:
        """Loads in all, as an expression."""
        return sum(sum(row) for row in (*self.often, *self.again))

    def least_loads(self, stop: Stop, seconds: float) -> int:
        """Limit the number of loads from below."""
        self.model.minimize(self.loads)
        answer, solver = solve(self.model, stop, seconds)
        if answer is Answer.NONE:
            return self.wanted.most_loads * len(self.wanted.units)
        return max(1, round(solver.best_objective_bound)) if answer is Answer.FOUND else 1

    def easiest(self, loads: int, stop: Stop, seconds: float) -> tuple[Answer, list[tuple[int, Counts]]]:
        """Find pocket counts for no more than so many loads that leave the fullest sheet as empty as can be.

        Pairs of a kind of sheet and its counts; sheets without pockets are left out.
        """
        self.model.add(self.loads <= loads)
        fullest = self.model.new_int_var(0, 2 * SCALE, "")
        filled = []
        for s in range(self.count):
            for t, taken in enumerate(self.kinds[s]):
                area = self._area(s, self.limits.rooms[t])
                self.model.add(fullest >= area).only_enforce_if(taken)
            filled.append(self._area(s, max(self.limits.rooms)))
        self.model.minimize(20 * fullest + sum(filled))
        answer, solver = solve(self.model, stop, seconds)
        if answer is not Answer.FOUND:
            return answer, []
        found = []
        for s in range(self.count):
            counts = tuple(solver.value(n) for n in self.pockets[s])
            kind = next(t for t, taken in enumerate(self.kinds[s]) if solver.value(taken))
            if any(counts) and any(solver.value(n) for n in self.often[s]):
                found.append((kind, counts))
        return answer, found

    def _area(self, s: int, room: float) -> Any:
        shares = [share_of(area, room) for area in self.limits.areas]
        return sum(share * n for share, n in zip(shares, self.pockets[s], strict=True))

    def _add_stock(self) -> None:
        for row in self.kinds:
            self.model.add_exactly_one(row)
        for t, pieces in enumerate(self.limits.pieces):
            if pieces is not None:
                self.model.add(sum(row[t] for row in self.kinds) <= pieces)

    def _add_room(self, s: int) -> None:
        for t, taken in enumerate(self.kinds[s]):
            self.model.add(self._area(s, self.limits.rooms[t]) <= SCALE).only_enforce_if(taken)
            for k, most in enumerate(self.limits.most[t]):
                self.model.add(self.pockets[s][k] <= most).only_enforce_if(taken)
        for failed in self.limits.failed:
            self.model.add_bool_or(
                [~self.kinds[s][failed.sheet], *fewer(self.model, self.pockets[s], failed)]
            )

    def _add_cover(self, largest: Sequence[int]) -> None:
        products: dict[tuple[int, int, int], Any] = {}
        for claim, units in self.wanted.units.items():
            k = self.wanted.names.index(claim[0])
            inside = [g for g, group in enumerate(self.wanted.groups) if claim in group.claims]
            terms = [
                counts[k] * row[g]
                for counts, row in zip(self.wanted.kept, self.again, strict=True)
                for g in inside
            ]
            for s in range(self.count):
                for g in inside:
                    if (s, k, g) not in products:
                        product = self.model.new_int_var(0, largest[k] * self.wanted.most_loads, "")
                        self.model.add_multiplication_equality(product, self.pockets[s][k], self.often[s][g])
                        products[s, k, g] = product
                    terms.append(products[s, k, g])
            self.model.add(sum(terms) >= units)
