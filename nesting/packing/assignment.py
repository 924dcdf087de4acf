"""Which boxes go on which of so many equal beds: assigned by CP-SAT, refined by what does not fit.

The assignment only knows shares (`shares.ShareTable`) and pairs that exclude each other. Whatever
it puts on one bed is then tried; what does not fit is forbidden on every bed, together with all that
is larger (combinatorial Benders cuts). It ends with a layout or with the proof that there is none.
"""

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from nesting.packing.boxes import Boxes, Filled, Spot
from nesting.packing.cp import Answer, solve
from nesting.packing.fits import Counts, Fits
from nesting.packing.shares import ShareTable
from nesting.packing.stop import Stop

if TYPE_CHECKING:
    from ortools.sat.python import cp_model

_SCALE = 100_000
_OVER = 1 + 1e-7
_SHRINKS = 40


@dataclass
class Assignment:
    """The search for a filling of `count` beds of one kind that holds every box.

    Attributes
    ----------
    proof
        Whether nothing was ruled out without proof so far.
    """

    boxes: Boxes
    bed: int
    count: int
    fits: Fits
    table: ShareTable
    seed: int = 1
    proof: bool = True
    _model: "cp_model.CpModel" = field(init=False)
    _kind: list[int] = field(init=False)
    _on: list[list[Any]] = field(init=False)

    def __post_init__(self) -> None:
        from ortools.sat.python import cp_model

        kinds = self.boxes.kinds
        self._model = cp_model.CpModel()
        self._kind = [
            k
            for k in sorted(range(len(kinds)), key=lambda k: -kinds[k].area)
            for _ in range(kinds[k].quantity)
        ]
        self._on = [[self._model.new_bool_var("") for _ in range(self.count)] for _ in self._kind]
        for row in self._on:
            self._model.add_exactly_one(row)
        self._exclude_pairs()
        bed = self.boxes.beds[self.bed]
        area = [kind.area for kind in kinds]
        self._limit(area, bed.area)
        self._limit_pair(self.table.strongest([(k, kind.quantity) for k, kind in enumerate(kinds)])[1])

    def search(self, stop: Stop, seen: Callable[[tuple[Spot, ...]], None]) -> tuple[Answer, list[Filled]]:
        """Assign, try and forbid until it fits or cannot; `seen` is told every filled bed."""
        while not stop.reached:
            answer, solver = solve(self._model, stop, stop.left, self.seed, symmetry_level=3)
            if answer is Answer.NONE:
                return (Answer.NONE if self.proof else Answer.UNKNOWN), []
            if answer is Answer.UNKNOWN:
                break
            filled = self._tried(solver, stop, seen)
            if filled is not None:
                return Answer.FOUND, filled
        return Answer.UNKNOWN, []

    def _tried(
        self, solver: "cp_model.CpSolver", stop: Stop, seen: Callable[[tuple[Spot, ...]], None]
    ) -> list[Filled] | None:
        filled: list[Filled] = []
        for bed in range(self.count):
            on_bed = Counter(k for k, row in zip(self._kind, self._on, strict=True) if solver.value(row[bed]))
            counts = tuple(sorted(on_bed.items()))
            if not counts or self._overfull(counts):
                continue
            answer, spots = self.fits(counts)
            if answer is Answer.FOUND:
                filled.append((self.bed, spots))
                seen(spots)
            else:
                self._forbid(counts, answer, stop)
        placed = sum(len(spots) for _, spots in filled)
        return filled if placed == len(self._kind) else None

    def _overfull(self, counts: Counts) -> bool:
        """Whether some pair of functions shows that a set does not fit; it then holds for every bed."""
        share, pair = self.table.strongest(counts)
        if share > _OVER:
            self._limit_pair(pair)
            return True
        return False

    def _forbid(self, counts: Counts, answer: Answer, stop: Stop) -> None:
        if answer is Answer.NONE:
            counts = self._shrunk(counts, stop)
        else:
            self.proof = False
        kinds = self.boxes.kinds
        members = Counter(dict(counts))
        larger = {
            k for k in range(len(kinds)) if all(_holds(kinds[k].sizes, kinds[j].sizes) for j in members)
        }
        size = members.total()
        chosen: list[int] = []
        for i, k in enumerate(self._kind):
            if k in larger:
                chosen.append(i)
            elif members[k] > 0:
                members[k] -= 1
                chosen.append(i)
        self._forbid_everywhere(chosen, size)
        if any(members[k] for k in members if k not in larger):
            raise AssertionError("a set holds more boxes of a kind than there are")

    def _forbid_everywhere(self, chosen: list[int], size: int) -> None:
        for bed in range(self.count):
            self._model.add(sum(self._on[i][bed] for i in chosen) <= size - 1)

    def _shrunk(self, counts: Counts, stop: Stop) -> Counts:
        """Leave out boxes, small ones first, as long as the rest still does not fit."""
        kept = Counter(dict(counts))
        for k in sorted(kept, key=lambda k: self.boxes.kinds[k].area)[:_SHRINKS]:
            while kept[k] and not stop.reached:
                kept[k] -= 1
                if self.fits(tuple(sorted((+kept).items())))[0] is not Answer.NONE:
                    kept[k] += 1
                    break
        return tuple(sorted((+kept).items()))

    def _limit_pair(self, pair: tuple[int, int]) -> None:
        row = self.table.row(pair)
        self._limit([int(share * _SCALE + 1e-6) for share in row], _SCALE)

    def _limit(self, weights: list[int], most: int) -> None:
        for bed in range(self.count):
            terms = [weights[k] * row[bed] for k, row in zip(self._kind, self._on, strict=True) if weights[k]]
            self._model.add(sum(terms) <= most)

    def _exclude_pairs(self) -> None:
        """Forbid pairs that never lie on one bed, and give the members of a large such set a bed each."""
        bed, kinds = self.boxes.beds[self.bed], self.boxes.kinds
        graph: dict[int, set[int]] = {i: set() for i in range(len(self._kind))}
        for i, k in enumerate(self._kind):
            for j in range(i):
                gap = max(kinds[k].gap, kinds[self._kind[j]].gap)
                room = (bed.width - gap, (bed.height or 0) - gap)
                if excluded(kinds[k].sizes, kinds[self._kind[j]].sizes, *room):
                    graph[i].add(j)
                    graph[j].add(i)
                    for here in range(self.count):
                        self._model.add_bool_or(~self._on[i][here], ~self._on[j][here])
        clique = exclusive_set(graph)
        for here, i in enumerate(clique[: self.count]):
            self._model.add(self._on[i][here] == 1)


def excluded(
    one: tuple[tuple[int, int], ...], other: tuple[tuple[int, int], ...], width: int, height: int
) -> bool:
    """Whether two boxes can lie neither side by side nor one above the other."""
    return all(w + v > width and h + u > height for w, h in one for v, u in other)


def exclusive_set(graph: dict[int, set[int]]) -> list[int]:
    """Find a set of nodes that are all joined to each other, by greedy growth from every node."""
    best: list[int] = []
    for start in graph:
        clique, candidates = [start], set(graph[start])
        while candidates:
            node = max(candidates, key=lambda v: (len(candidates & graph[v]), -v))
            clique.append(node)
            candidates &= graph[node]
        if len(clique) > len(best):
            best = sorted(clique)
    return best


def _holds(outer: tuple[tuple[int, int], ...], inner: tuple[tuple[int, int], ...]) -> bool:
    """Whether every way of the outer box covers some way of the inner one."""
    return all(any(w >= v and h >= u for v, u in inner) for w, h in outer)
