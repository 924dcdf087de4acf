"""Single filled beds kept from a search, and the best choice among them."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from nesting.packing.boxes import Boxes, Filled, Spot
from nesting.packing.cp import Answer, solve
from nesting.packing.fits import Counts
from nesting.packing.stop import Stop

_MOST = 12_000


@dataclass
class Pool:
    """Filled beds, one for each set of boxes on each kind of bed."""

    boxes: Boxes
    filled: dict[tuple[int, Counts], tuple[Spot, ...]] = field(default_factory=dict)

    def add(self, filled: Filled) -> None:
        """Keep a filled bed; when there are too many, the older half is let go."""
        bed, spots = filled
        if len(self.filled) >= _MOST:
            for key in list(self.filled)[: _MOST // 2]:
                del self.filled[key]
        self.filled.setdefault((bed, counted(spots)), spots)

    def choose(self, stop: Stop, most: float, worth: float, hint: Sequence[Filled] = ()) -> list[Filled]:
        """Choose beds that place all they can for the least cost (a set-covering problem).

        Parameters
        ----------
        stop, most
            Limits of the search.
        worth
            What it costs to leave a box unplaced, in the unit of a bed's cost.
        hint
            A choice to start from; its beds are taken into the pool.
        """
        from ortools.sat.python import cp_model

        started = Counter((bed, counted(spots)) for bed, spots in hint)
        for bed, spots in hint:
            self.filled.setdefault((bed, counted(spots)), spots)
        model = cp_model.CpModel()
        cover: list[list[tuple[cp_model.IntVar, int]]] = [[] for _ in self.boxes.kinds]
        use: dict[int, list[cp_model.IntVar]] = {}
        taken, cost = [], []
        total = sum(kind.quantity for kind in self.boxes.kinds)
        for key in self.filled:
            bed, counts = key
            most_used = max(-(-self.boxes.kinds[k].quantity // c) for k, c in counts)
            times = model.new_int_var(0, min(most_used, self.boxes.beds[bed].quantity), "")
            model.add_hint(times, started[key])
            for k, c in counts:
                cover[k].append((times, c))
            use.setdefault(bed, []).append(times)
            taken.append((key, times))
            cost.append(times * round(1000 * bed_cost(self.boxes, bed)))
        missing = []
        for k, kind in enumerate(self.boxes.kinds):
            short = model.new_int_var(0, kind.quantity, "")
            model.add(sum(times * c for times, c in cover[k]) + short >= kind.quantity)
            missing.append(short)
        for bed, times_list in use.items():
            if self.boxes.beds[bed].quantity < total:
                model.add(sum(times_list) <= self.boxes.beds[bed].quantity)
        model.minimize(sum(cost) + round(1000 * worth) * sum(missing))
        answer, solver = solve(model, stop, most)
        if answer is not Answer.FOUND:
            return list(hint)
        chosen = [(key, solver.value(times)) for key, times in taken]
        return trimmed(
            self.boxes, [(key[0], self.filled[key]) for key, times in chosen for _ in range(times)]
        )


def counted(spots: Iterable[Spot]) -> Counts:
    """Count the boxes of each kind."""
    return tuple(sorted(Counter(spot.kind for spot in spots).items()))


def bed_cost(boxes: Boxes, bed: int) -> float:
    """Give what one bed counts in the objective."""
    return boxes.beds[bed].cost if boxes.problem.objective == "cost" else 1.0


def trimmed(boxes: Boxes, filled: Iterable[Filled]) -> list[Filled]:
    """Take away boxes that are placed more often than wanted, and beds left empty."""
    left = [kind.quantity for kind in boxes.kinds]
    result: list[Filled] = []
    for bed, spots in filled:
        kept = []
        for spot in spots:
            if left[spot.kind] > 0:
                left[spot.kind] -= 1
                kept.append(spot)
        if kept:
            result.append((bed, tuple(kept)))
    return result
