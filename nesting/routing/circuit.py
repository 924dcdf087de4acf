"""A proof that a path is the best: a circuit through one way of every stroke, by CP-SAT.

The generalised travelling salesman problem as a constraint on circuits (ortools documentation,
``AddCircuit``): the start and every way is a node, the ways that are not run loop on themselves.
"""

from collections import defaultdict
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from nesting.packing.cp import Answer, solve
from nesting.packing.stop import Stop
from nesting.routing.legs import Legs
from nesting.routing.shapes import Floats
from nesting.routing.strokes import Ints

if TYPE_CHECKING:
    from ortools.sat.python.cp_model import CpSolver, IntVar

MOST_WAYS = 250
"""More ways are not tried: their model would be too large to prove anything."""

STEPS = 200_000
"""The cost of the path known is cut into so many steps, to whole numbers rounded down."""


@dataclass(frozen=True)
class Proof:
    """The best path found, if it is better than the one known, and what none can undercut."""

    ways: Ints | None
    bound: float


def prove(legs: Legs, ways: Ints, stop: Stop, seed: int) -> Proof:
    """Raise the bound on the cost of a path until `stop` is reached or it meets the path.

    Parameters
    ----------
    legs
        The strokes, their costs, and what must come before what.
    ways
        A good path.
    """
    model = _Model(legs, ways)
    workers = 1 if stop.reproducible else 4
    answer, solver = solve(model.model, stop, stop.left, seed, num_workers=workers, linearization_level=2)
    bound = max(solver.best_objective_bound, 0.0) / model.scale
    if answer is not Answer.FOUND:
        return Proof(None, bound)
    found = model.path(solver)
    least = min(legs.total(found), legs.total(ways))
    better = legs.total(found) < legs.total(ways) - 1e-9
    # what rounding hides: a path so near the bound is the best but for that
    hidden = (legs.strokes.count + 2) / model.scale
    return Proof(found if better else None, least if least <= bound + hidden else bound)


class _Model:
    """The circuit: node 0 is the start and the end of the path, node 1 + w is way w."""

    def __init__(self, legs: Legs, ways: Ints) -> None:
        from ortools.sat.python import cp_model

        self.legs, self.model = legs, cp_model.CpModel()
        self.scale = STEPS / max(legs.total(ways), 1e-9)
        self.steps: dict[tuple[int, int], IntVar] = {}
        loops = self._loops()
        self._arcs()
        arcs = [(a, b, step) for (a, b), step in self.steps.items()]
        self.model.add_circuit([*arcs, *((1 + w, 1 + w, loop) for w, loop in enumerate(loops))])
        self._once_between_strokes(loops)
        self._precedence()
        self.model.minimize(sum(self.cost[a, b] * step for (a, b), step in self.steps.items()))
        self._hint(ways, loops)

    def _loops(self) -> "list[IntVar]":
        loops = [self.model.new_bool_var("") for _ in self.legs.strokes.owner]
        for stroke in range(self.legs.strokes.count):
            self.model.add_exactly_one(~loops[way] for way in self.legs.strokes.ways(stroke))
        return loops

    def _arcs(self) -> None:
        legs, owner = self.legs, self.legs.strokes.owner
        size = len(owner)
        costs: Floats = np.zeros((size + 1, size + 1))
        costs[1:, 1:] = legs.costs[:size, :size]
        costs[0, 1:], costs[1:, 0] = legs.costs[legs.start, :size], legs.costs[:size, legs.end]
        # rounded down, so that the bound holds
        self.cost = {(a, b): int(costs[a, b] * self.scale) for a in range(size + 1) for b in range(size + 1)}
        for a in range(size + 1):
            for b in range(size + 1):
                if a != b and not (a and b and owner[a - 1] == owner[b - 1]):
                    self.steps[a, b] = self.model.new_bool_var("")

    def _once_between_strokes(self, loops: "list[IntVar]") -> None:
        """Say what follows, for the relaxation's sake: two strokes are neighbours once at the most.

        Without it half a way here and half a way there make cheap round trips between two strokes.
        """
        owner = self.legs.strokes.owner.tolist()
        pairs: defaultdict[tuple[int, int], list[IntVar]] = defaultdict(list)
        sides: defaultdict[tuple[int, int], list[IntVar]] = defaultdict(list)
        for (a, b), step in self.steps.items():
            if a and b:
                one, two = owner[a - 1], owner[b - 1]
                pairs[min(one, two), max(one, two)].append(step)
                sides[a - 1, two].append(step)
                sides[b - 1, one].append(step)
        for steps in pairs.values():
            self.model.add_at_most_one(steps)
        for (way, _), steps in sides.items():
            self.model.add(sum(steps) <= 1 - loops[way])

    def _precedence(self) -> None:
        """Give each stroke its place along the path where some come before others."""
        if not any(self.legs.before):
            return
        owner, count = self.legs.strokes.owner.tolist(), self.legs.strokes.count
        place = [self.model.new_int_var(0, count - 1, "") for _ in range(count)]
        for (a, b), step in self.steps.items():
            if a and b:
                self.model.add(place[owner[b - 1]] == place[owner[a - 1]] + 1).only_enforce_if(step)
        for stroke, earlier in enumerate(self.legs.before):
            for first in earlier:
                self.model.add(place[first] < place[stroke])

    def _hint(self, ways: Ints, loops: "list[IntVar]") -> None:
        path = [0, *(1 + ways).tolist(), 0]
        taken = set(pairwise(path))
        for arc, step in self.steps.items():
            self.model.add_hint(step, arc in taken)
        for way, loop in enumerate(loops):
            self.model.add_hint(loop, 1 + way not in path)

    def path(self, solver: "CpSolver") -> Ints:
        """Read the ways off the circuit."""
        onward = {a: b for (a, b), step in self.steps.items() if solver.value(step)}
        ways, node = [], onward[0]
        while node:
            ways.append(node - 1)
            node = onward[node]
        return np.array(ways)
