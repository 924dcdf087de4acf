"""Rectangles as whole numbers: what the engines for rectangles and equal blanks compute with."""

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property

from nesting.geometry.region import Region
from nesting.packing.problem import Item, Problem, Sheet
from nesting.packing.result import Layout, Placement

Box = tuple[int, int, int, int]
"""``(min x, min y, max x, max y)``."""

UNLIMITED = 10**9
"""Stands for as many sheets as it takes."""

FILLED = 0.97
"""From this share of its bounding box on, a footprint is packed as if it were that box."""

_PER_MM = 1000
_SLACK = 1e-6


@dataclass(frozen=True)
class Pose:
    """How an item is placed to fill a box: its turn, and its shift from the box's lower left corner."""

    turn: float
    x: int
    y: int


@dataclass(frozen=True)
class Kind:
    """Boxes that are alike in sizes and gap, whichever items they belong to.

    Attributes
    ----------
    sizes
        The distinct ``(width, height)`` that the allowed turns give: one or two.
    gap
        Clear distance to any other box.
    members
        The items in it: name, quantity, and one pose for each size.
    """

    sizes: tuple[tuple[int, int], ...]
    gap: int
    members: tuple[tuple[str, int, tuple[Pose, ...]], ...]

    @cached_property
    def quantity(self) -> int:
        """How many boxes there are."""
        return sum(count for _, count, _ in self.members)

    @cached_property
    def narrowest(self) -> int:
        """Its least width in any of its sizes."""
        return min(w for w, _ in self.sizes)

    @cached_property
    def lowest(self) -> int:
        """Its least height in any of its sizes."""
        return min(h for _, h in self.sizes)

    @cached_property
    def area(self) -> int:
        """Area of one box."""
        return self.sizes[0][0] * self.sizes[0][1]


@dataclass(frozen=True)
class Bed:
    """The part of a kind of sheet where boxes may lie, its lower left corner at (0, 0).

    `height` is None for a roll. `x`, `y` say where that corner is on the sheet; `blocked` are the
    keep-outs' bounding boxes.
    """

    width: int
    height: int | None
    blocked: tuple[Box, ...]
    quantity: int
    cost: float
    x: int
    y: int

    @property
    def area(self) -> int:
        """Area of the bed, blocked boxes included; 0 for a roll."""
        return self.width * (self.height or 0)


@dataclass(frozen=True, slots=True)
class Spot:
    """A box of a kind in one of its sizes, its lower left corner at (x, y) on a bed."""

    kind: int
    size: int
    x: int
    y: int


Filled = tuple[int, tuple[Spot, ...]]
"""A bed, by its index, and the spots on it."""


@dataclass(frozen=True)
class Boxes:
    """A packing problem in whole numbers; `unit` is the length of 1 in µm."""

    problem: Problem
    kinds: tuple[Kind, ...]
    beds: tuple[Bed, ...]
    unit: int

    @cached_property
    def exact(self) -> bool:
        """Whether nothing was rounded or boxed in, so that what no boxes can do, no footprints can."""
        whole = all(
            item.footprint.is_rectangle and item.gap == 0 and item.turns != "any"
            and len(_right_turns(item)) == len(item.turns) and _whole(item.footprint)
            for item in self.problem.items
        )  # fmt: skip
        return whole and not any(bed.blocked for bed in self.beds)

    def layout(self, filled: Iterable[Filled], **about: object) -> Layout:
        """Write filled beds as a layout; every kind hands out its items in their order."""
        beds = [(bed, spots) for bed, spots in filled if spots]
        supply = [_supply(kind) for kind in self.kinds]
        placements = [
            self._placement(sheet, bed, spot, *next(supply[spot.kind]))
            for sheet, (bed, spots) in enumerate(beds)
            for spot in spots
        ]
        sheets = tuple(self.problem.sheets[bed] for bed, _ in beds)
        layout = Layout(self.problem, sheets, tuple(placements), bound=0.0)
        return layout.with_changes(**about)

    def _placement(self, sheet: int, bed: int, spot: Spot, name: str, poses: tuple[Pose, ...]) -> Placement:
        pose, corner = poses[spot.size], self.beds[bed]
        x = (corner.x + (spot.x * self.unit)) + pose.x
        y = (corner.y + (spot.y * self.unit)) + pose.y
        return Placement(name, sheet, x / _PER_MM, y / _PER_MM, pose.turn)


def refusal(problem: Problem) -> str | None:
    """Say why a problem cannot be packed as boxes; None if it can."""
    for item in problem.items:
        x0, y0, x1, y1 = item.footprint.bounds
        if item.edge is not None:
            return f"{item.name!r} may reach beyond the sheet's edge"
        if item.footprint.area < FILLED * (x1 - x0) * (y1 - y0):
            return f"the footprint of {item.name!r} is no rectangle"
        if not _right_turns(item):
            return f"{item.name!r} has no turn by a right angle"
    for sheet in problem.sheets:
        if sheet.outline is not None and not sheet.outline.is_rectangle:
            return f"the outline of sheet {sheet.name!r} is no rectangle"
    return None


def read(problem: Problem, *, scaled: bool = True) -> Boxes:
    """Turn a problem that `refusal` lets pass into boxes, rounded so that every layout is sound.

    `scaled` divides all lengths by what they have in common; otherwise they stay in µm.
    """
    found: dict[tuple[tuple[tuple[int, int], ...], int], list[tuple[str, int, tuple[Pose, ...]]]] = {}
    for item in problem.items:
        poses = _poses(item)
        sizes = tuple(sorted(poses))
        member = (item.name, item.quantity, tuple(poses[size] for size in sizes))
        found.setdefault((sizes, _up(item.gap)), []).append(member)
    kinds = [Kind(sizes, gap, tuple(members)) for (sizes, gap), members in found.items()]
    beds = [_bed(sheet) for sheet in problem.sheets]
    return _scaled(problem, kinds, beds) if scaled else Boxes(problem, tuple(kinds), tuple(beds), 1)


def _poses(item: Item) -> dict[tuple[int, int], Pose]:
    poses: dict[tuple[int, int], Pose] = {}
    for turn in _right_turns(item):
        x0, y0, x1, y1 = _box(item.footprint.moved(turn=turn))
        poses.setdefault((x1 - x0, y1 - y0), Pose(turn, -x0, -y0))
    return poses


def _right_turns(item: Item) -> list[float]:
    if item.turns == "any":
        return [0.0, 90.0]
    if item.footprint.is_circle:
        return list(item.turns[:1])  # a disc takes the same room whatever its turn
    return [turn for turn in item.turns if turn % 90 == 0]


def _bed(sheet: Sheet) -> Bed:
    x0, y0, x1, y1 = sheet.region.bounds if sheet.height is not None else (0.0, 0.0, sheet.width, 0.0)
    x, y = _up(x0 + sheet.margin), _up(y0 + sheet.margin)
    width, height = _down(x1 - sheet.margin) - x, _down(y1 - sheet.margin) - y
    blocked = tuple(
        (a - x, b - y, c - x, d - y) for a, b, c, d in (_box(region) for region in sheet.keep_outs)
    )
    return Bed(
        max(width, 0), None if sheet.height is None else max(height, 0), blocked,
        UNLIMITED if sheet.quantity is None else sheet.quantity, sheet.cost or 0.0, x, y,
    )  # fmt: skip


def _scaled(problem: Problem, kinds: list[Kind], beds: list[Bed]) -> Boxes:
    """Divide every length by what they have in common, so that searches see small numbers."""
    lengths = [length for kind in kinds for size in kind.sizes for length in (*size, kind.gap)]
    lengths += [edge for bed in beds for box in bed.blocked for edge in box]
    unit = math.gcd(*lengths)
    scaled_kinds = tuple(
        Kind(tuple((w // unit, h // unit) for w, h in kind.sizes), kind.gap // unit, kind.members)
        for kind in kinds
    )
    scaled_beds = tuple(
        Bed(
            bed.width // unit, None if bed.height is None else bed.height // unit,
            tuple(tuple(edge // unit for edge in box) for box in bed.blocked),  # type: ignore[misc]
            bed.quantity, bed.cost, bed.x, bed.y,
        )
        for bed in beds
    )  # fmt: skip
    return Boxes(problem, scaled_kinds, scaled_beds, unit)


def _supply(kind: Kind) -> Iterator[tuple[str, tuple[Pose, ...]]]:
    return iter([(name, poses) for name, count, poses in kind.members for _ in range(count)])


def _box(region: Region) -> Box:
    x0, y0, x1, y1 = region.bounds
    return _down(x0), _down(y0), _up(x1), _up(y1)


def _whole(region: Region) -> bool:
    return all(_up(edge) == _down(edge) for edge in region.bounds)


def _up(length_mm: float) -> int:
    return math.ceil(length_mm * _PER_MM - _SLACK)


def _down(length_mm: float) -> int:
    return math.floor(length_mm * _PER_MM + _SLACK)
