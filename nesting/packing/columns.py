"""Layouts from a linear programme: columns that would save loads, and a limit no number of layouts passes.

Column generation for the cutting stock problem after Gilmore and Gomory (1961), "A linear programming
approach to the cutting-stock problem", Operations Research 9. A column is a layout with the blanks that
may share a load. Layouts are priced within what is known of a sheet's room; packing then says whether
one fits. The limit is that of Farley (1990), "A note on bounding a class of linear programming
problems, including cutting stock problems", Operations Research 38, in whole numbers.
"""

from collections.abc import Sequence

from nesting.packing.cp import Answer, solve
from nesting.packing.fitting import SCALE, Counts, Fitting
from nesting.packing.load_groups import Claim
from nesting.packing.master import Wanted, fewer

WEIGHT = 10_000_000
"""Weights of the linear programme in whole numbers."""

MOST_ROUNDS = 200
MOST_MAXIMAL = 400
MODEL_SECONDS = 2.0


class Columns:
    """Columns for a demand: pairs of the group that is loaded and the counts of a layout.

    Attributes
    ----------
    reason
        Why the limit holds.
    """

    reason = "a linear programme over all layouts within a sheet's area shows it"

    def __init__(self, fitting: Fitting, wanted: Wanted) -> None:
        self.fitting, self.wanted = fitting, wanted
        self.stop = fitting.packer.stop
        self.columns = [(g, c) for g in range(len(wanted.groups)) for c in self._at_hand()]

    def bound(self, share: float) -> int:
        """Limit the number of loads from below; layouts that are worth it are packed on the way."""
        best, part = 1, self.stop.part(share)
        if not self._covered():
            return best
        for _ in range(MOST_ROUNDS):
            weights = self._weights()
            priced = [column for g in range(len(self.wanted.groups)) for column in self._priced(g, weights)]
            most = max((value for value, _, _ in priced), default=0)
            if most <= 0:
                break
            total = sum(weights[claim] * units for claim, units in self.wanted.units.items())
            best = max(best, -(-total // most))
            heavy = [(g, counts) for value, g, counts in priced if counts and value > WEIGHT * (1 + 1e-6)]
            new = [column for column in heavy if column not in self.columns]
            if not new or part.reached:
                break
            self.columns += new
        self._pack(share)
        return best

    def _at_hand(self) -> list[Counts]:
        return [*(fitted.counts for fitted in self.fitting.known), *self.wanted.kept]

    def _covered(self) -> bool:
        return all(
            any(counts[self.wanted.names.index(claim[0])] for counts in self._at_hand())
            for claim in self.wanted.units
        )

    def _weights(self) -> dict[Claim, int]:
        """Weigh units so that no column holds more than `WEIGHT`, and all units together weigh most."""
        from ortools.linear_solver import pywraplp  # type: ignore[import-untyped]

        solver = pywraplp.Solver.CreateSolver("GLOP")
        weights = {claim: solver.NumVar(0, solver.infinity(), "") for claim in self.wanted.units}
        for g, counts in self.columns:
            inside = [c for c in self.wanted.groups[g].claims if c in weights]
            solver.Add(sum(counts[self.wanted.names.index(c[0])] * weights[c] for c in inside) <= 1)
        solver.Maximize(sum(units * weights[claim] for claim, units in self.wanted.units.items()))
        solver.Solve()
        return {claim: max(0, round(w.solution_value() * WEIGHT)) for claim, w in weights.items()}

    def _priced(self, g: int, weights: dict[Claim, int]) -> list[tuple[int, int, Counts]]:
        """Find the heaviest layout of each kind of sheet, and weigh what kept sheets hold at the most."""
        worth = [0] * len(self.wanted.names)
        for claim in self.wanted.groups[g].claims:
            worth[self.wanted.names.index(claim[0])] = weights.get(claim, 0)
        kept = [(sum(w * n for w, n in zip(worth, c, strict=True)), g, c) for c in self.wanted.kept_most]
        return [*kept, *(self._heaviest(g, t, worth) for t in range(len(self.fitting.sheets)))]

    def _heaviest(self, g: int, t: int, worth: Sequence[int]) -> tuple[int, int, Counts]:
        from ortools.sat.python import cp_model

        model = cp_model.CpModel()
        limits = zip(self.fitting.most[t], worth, strict=True)
        pockets = [model.new_int_var(0, most if weight else 0, "") for most, weight in limits]
        shares = self.fitting.shares(t)
        model.add(sum(s * n for s, n in zip(shares, pockets, strict=True)) <= SCALE)
        for failed in self.fitting.failed:
            if failed.sheet == t and failed.proven:
                model.add_bool_or(fewer(model, pockets, failed))
        model.maximize(sum(w * n for w, n in zip(worth, pockets, strict=True)))
        answer, solver = solve(model, self.stop, MODEL_SECONDS)
        if answer is not Answer.FOUND:
            return sum(w * n for w, n in zip(worth, self.fitting.most[t], strict=True)), g, ()
        counts = tuple(solver.value(n) for n in pockets)
        return round(solver.best_objective_bound), g, counts

    def _pack(self, share: float) -> None:
        """Ask packing for the columns and, where there are few, for every layout that holds no more."""
        part = self.stop.part(share)
        asked = list(dict.fromkeys(counts for _, counts in self.columns if any(counts)))
        for t in range(len(self.fitting.sheets)):
            maximal = self.fitting.maximal(t, MOST_MAXIMAL)
            for counts in dict.fromkeys([*maximal, *asked]):
                if part.reached:
                    return
                self.fitting.ask(t, counts, 0.05)
