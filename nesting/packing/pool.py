"""Single filled beds kept from a search, and the best choice among them."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from nesting.packing.boxes import Boxes, Filled, Spot
from nesting.packing.covering import covering
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
        """Choose beds that place all they can for the least cost.

        Parameters
        ----------
        stop, most
            Limits of the search.
        worth
            What it costs to leave a box unplaced, in the unit of a bed's cost.
        hint
            A choice to start from; its beds are taken into the pool.
        """
        for bed, spots in hint:
            self.filled.setdefault((bed, counted(spots)), spots)
        number = {key: n for n, key in enumerate(self.filled)}
        started = Counter(number[bed, counted(spots)] for bed, spots in hint)
        beds = self.boxes.beds
        chosen = covering(
            [kind.quantity for kind in self.boxes.kinds],
            [(bed.quantity, bed_cost(self.boxes, k)) for k, bed in enumerate(beds)],
            list(self.filled), [worth] * len(self.boxes.kinds), stop, most, started,
        )  # fmt: skip
        if chosen is None:
            return list(hint)
        filled = [(bed, spots) for (bed, _), spots in self.filled.items()]
        return trimmed(self.boxes, [filled[n] for n in chosen])


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
