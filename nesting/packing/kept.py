"""Kept sheets: which blanks of a job fit into the pockets of a sheet that was cut before."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

import numpy as np
import shapely
from shapely.affinity import translate
from shapely.geometry.base import BaseGeometry

from nesting.fixture.hole import hole_of
from nesting.geometry.region import Region
from nesting.job.job import Blank, Job, KeptSheet
from nesting.packing.result import Placement
from nesting.units import snap

PLAY_MM = 0.1
"""How far a kept pocket may be off the hole that the blank would get, anywhere round it."""

THICKNESS_MM = 0.05
"""How far a kept sheet's thickness may be off the job's stock where a body rests on its pocket's edges."""

GAP_MM = 0.005
"""How much of a gap may be missing, for blanks that are centred in pockets that are not quite theirs."""

_FINE = 1e-4
_COARSE = 1e-3
_ROUND = 32

Lying = tuple[int, Placement]
"""A pocket's number, and how a blank lies in it."""


@dataclass(frozen=True)
class Way:
    """One way to fill a kept sheet: pockets, by number, and what lies in them."""

    lying: tuple[Lying, ...]

    @property
    def placements(self) -> tuple[Placement, ...]:
        """Where blanks lie."""
        return tuple(placement for _, placement in self.lying)

    @property
    def pockets(self) -> Counter[str]:
        """How many pockets it has for each blank."""
        return Counter(placement.item for placement in self.placements)


@dataclass(frozen=True)
class Reused:
    """A kept sheet as a job sees it.

    Attributes
    ----------
    sheet
        The sheet.
    lying
        Every way in which a blank of the job lies in one of its pockets.
    ways
        Ways to fill it; the first holds what each pocket was cut for as far as that is wanted.
    """

    sheet: KeptSheet
    lying: tuple[Lying, ...]
    ways: tuple[Way, ...]

    @cached_property
    def most(self) -> Counter[str]:
        """Limit how many units of each blank it can hold at once."""
        return Counter(placement.item for _, placement in self.lying)


def reusable(job: Job, wanted: Mapping[str, int]) -> list[Reused]:
    """List the kept sheets with pockets for blanks of the job, of which so many units are wanted."""
    blanks = {blank.name: blank for blank in job.blanks if wanted.get(blank.name)}
    found = []
    for sheet in job.kept:
        lying = _lying(job, sheet, list(blanks.values())) if _on_bed(job, sheet) else []
        if lying:
            found.append(Reused(sheet, tuple(lying), _ways(sheet, lying, blanks, wanted)))
    return found


def undominated(kept: Sequence[Reused], names: Sequence[str]) -> tuple[Reused, ...]:
    """Leave out ways to fill sheets that hold no more of any blank than another way, on whichever sheet.

    Where a sheet is loaded again and again the other way does as well. The sheets stay, for the limits.
    """
    ways = [
        (k, way, tuple(way.pockets[name] for name in names)) for k, one in enumerate(kept) for way in one.ways
    ]
    left: list[tuple[int, Way, tuple[int, ...]]] = []
    for k, way, counts in sorted(ways, key=lambda one: -sum(one[2])):  # nothing dominates what holds more
        if not any(all(a >= b for a, b in zip(other, counts, strict=True)) for _, _, other in left):
            left.append((k, way, counts))
    return tuple(
        replace(one, ways=tuple(way for way in one.ways if (k, way) in {(j, w) for j, w, _ in left}))
        for k, one in enumerate(kept)
    )


def _on_bed(job: Job, sheet: KeptSheet) -> bool:
    stock, bed = sheet.stock, job.machine
    return stock.width <= bed.bed_width + 1e-6 and stock.height <= bed.bed_height + 1e-6


def _lying(job: Job, sheet: KeptSheet, blanks: Sequence[Blank]) -> list[Lying]:
    """List how blanks lie in the pockets of a sheet, one way for each pocket and blank."""
    thickness = sheet.stock.thickness
    rigid = {b.name for b in blanks if b.solid is not None and b.solid.pocket_width is not None}
    alike = any(abs(stock.thickness - thickness) <= THICKNESS_MM for stock in job.stock)
    lying = []
    for pocket in filter(lambda pocket: pocket.free, sheet.pockets):
        hole = sheet.hole(pocket).hole
        for blank in blanks:
            if blank.name in rigid and not alike:
                continue  # at another thickness it would lie at another height
            found = lies_in(hole, pocket.turn, blank, thickness)
            if found is not None:
                dx, dy, turn = found
                place = Placement(blank.name, 0, snap(pocket.x + dx), snap(pocket.y + dy), turn)
                lying.append((pocket.number, place))
    return lying


@lru_cache(maxsize=4096)
def lies_in(hole: Region, turn: float, blank: Blank, thickness: float) -> tuple[float, float, float] | None:
    """Say how a blank lies in a hole, in its own coordinates, that was turned by so many degrees.

    Returns
    -------
    How far (x, y) mm the blank's (0, 0) lies from the hole's, and the blank's turn on the sheet; None
    if the hole is nowhere within `PLAY_MM` of the one that the blank would get, or is too small.

    >>> area = Region.circle(90)
    >>> coaster = Blank("coaster", area, 4.0, 1.0, 0.25, (0.0,), area, "fine")
    >>> lies_in(Region.circle(90.6).moved(10, 0), 90, coaster, 3.0)
    (0.0, 10.0, 0.0)
    >>> lies_in(Region.circle(91), 0, coaster, 3.0) is None
    True
    """
    if blank.solid is not None and blank.solid.seat(thickness) is None:
        return None
    own = hole_of(blank, thickness)
    if own == hole and _allowed(turn, blank):
        return 0.0, 0.0, turn
    if abs(own.area - hole.area) > PLAY_MM * (own.outer.length + hole.outer.length):
        return None
    there = _polygon(hole.moved(turn=turn))
    for allowed in blank.turns:
        plain = _polygon(own.moved(turn=allowed))
        dx, dy = (
            snap(there.centroid.x - plain.centroid.x),
            snap(there.centroid.y - plain.centroid.y),
        )
        if _near(there, translate(plain, dx, dy), _least_play(blank)):
            return dx, dy, allowed
    return None


def _near(there: BaseGeometry, wanted: BaseGeometry, play: float) -> bool:
    """Tell whether a hole holds the wanted one less the play, and is within `PLAY_MM` of it."""
    held = there.buffer(_FINE, quad_segs=_ROUND).covers(wanted.buffer(-play, quad_segs=_ROUND))
    return bool(held and wanted.buffer(PLAY_MM + _FINE, quad_segs=_ROUND).covers(there))


def _least_play(blank: Blank) -> float:
    """How much smaller than its own hole one may be for a blank: never smaller than its seat."""
    rests = blank.solid is not None and blank.solid.pocket_width is not None
    return PLAY_MM if rests else min(PLAY_MM, blank.clearance)


def _allowed(turn: float, blank: Blank) -> bool:
    return any(abs((turn - allowed + 180) % 360 - 180) <= 1e-9 for allowed in blank.turns)


def _polygon(region: Region) -> BaseGeometry:
    return region.shape("on", _FINE)


def _ways(
    sheet: KeptSheet, lying: Sequence[Lying], blanks: Mapping[str, Blank], wanted: Mapping[str, int]
) -> tuple[Way, ...]:
    """Fill a sheet with all that fits, and once for each blank with that one first."""
    clear = _Clear(lying, blanks)
    cut_for = {pocket.number: pocket.blank for pocket in sheet.pockets}
    own = [k for k, (number, place) in enumerate(lying) if cut_for[number] == place.item]
    found = [_filled(lying, own, clear, wanted)]
    for name in dict.fromkeys(place.item for _, place in lying):
        mine = [k for k, (_, place) in enumerate(lying) if place.item == name]
        found.append(_filled(lying, mine, clear, wanted))
    return tuple(dict.fromkeys(found))


def _filled(lying: Sequence[Lying], first: Sequence[int], clear: "_Clear", wanted: Mapping[str, int]) -> Way:
    """Fill pockets with what comes first, then with the blank that has most units for each pocket so far."""
    chosen: list[int] = []
    counts: Counter[str] = Counter()

    def take(k: int) -> None:
        if all(lying[k][0] != lying[i][0] for i in chosen) and clear.of(k, chosen):
            chosen.append(k)
            counts[lying[k][1].item] += 1

    for k in first:
        take(k)
    by_pocket: dict[int, list[int]] = {}
    for k, (number, _) in enumerate(lying):
        by_pocket.setdefault(number, []).append(k)
    for ks in by_pocket.values():
        for k in sorted(ks, key=lambda k: -wanted[lying[k][1].item] / (counts[lying[k][1].item] + 1)):
            take(k)
    return Way(tuple(lying[k] for k in sorted(chosen)))


class _Clear:
    """Tells which blanks in a sheet's pockets keep their gap to each other."""

    def __init__(self, lying: Sequence[Lying], blanks: Mapping[str, Blank]) -> None:
        placed = [(blanks[place.item], place) for _, place in lying]
        self._solids = np.array([place.of(blank.footprint).shape("on", _COARSE) for blank, place in placed])
        self._boxes = shapely.bounds(self._solids)
        self._gaps = np.array([blank.gap for blank, _ in placed])

    def of(self, k: int, others: Sequence[int]) -> bool:
        """Tell whether one keeps its gap to some others."""
        rest = np.array(others, dtype=int)
        needs, low, high = np.maximum(self._gaps[k], self._gaps[rest]), *np.hsplit(self._boxes[rest], 2)
        between = np.maximum(low - self._boxes[k, 2:], self._boxes[k, :2] - high).max(axis=1, initial=-np.inf)
        near = between < needs
        apart = shapely.distance(self._solids[k], self._solids[rest[near]])
        return bool((apart >= needs[near] - GAP_MM).all())
