"""Packing under a limit that several calls share."""

from collections.abc import Callable, Sequence

from nesting.packing.problem import Item, Sheet
from nesting.packing.result import Layout
from nesting.packing.stop import Stop


class Packer:
    """Packing under a limit that several calls share; what it tells is passed on to `progress`."""

    def __init__(
        self, pack: Callable[..., Layout], stop: Stop, seed: int, progress: Callable[[str], object]
    ) -> None:
        self.pack, self.stop, self.seed, self.progress = pack, stop, seed, progress

    def part(self, share: float) -> "Packer":
        """Make one with a share of what is left; `close` it afterwards."""
        return Packer(self.pack, self.stop.part(share), self.seed, self.progress)

    def close(self, part: "Packer") -> None:
        """Count in what a part has spent."""
        self.stop.spend(part.stop.spent)

    def __call__(self, items: Sequence[Item], sheets: Sequence[Sheet], share: float, enough: float) -> Layout:
        """Pack with a share of what is left, until everything lies on no more than `enough` sheets."""
        part = self.stop.part(share)
        done = False

        def listen(layout: Layout) -> None:
            nonlocal done
            done = done or (not layout.unplaced and len(layout.sheets) <= enough)

        layout = self.pack(
            items,
            sheets,
            seconds=max(part.seconds or 0.0, 0.05),
            effort=None if part.effort is None else max(part.effort, 0.01),
            seed=self.seed,
            progress=listen,
            cancelled=lambda: done or self.stop.cancelled(),
        )
        self.stop.spend(part.effort or 0.0)
        return layout
