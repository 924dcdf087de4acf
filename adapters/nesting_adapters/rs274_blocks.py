"""Blocks of RS-274/NGC (NISTIR 6556, 2000) for a beam that goes on, moves and goes off."""

import math
import unicodedata
from collections.abc import Iterable, Iterator
from functools import lru_cache
from textwrap import wrap

from nesting.geometry.contour import Arc, Contour, Vertex
from nesting_adapters.svg_path_data import number

DECIMALS = 4
"""With three, the ends of some arcs leave the 0.002 mm by which their radii may differ (section 3.5.3)."""

LONGEST_LINE = 256
LARGEST_LINE_NUMBER = 99_999
COMMENT_WIDTH = 100

WIDEST_ARC = math.radians(100)
"""Wider arcs are written in pieces, so that rounding moves an arc by as much as was rounded, not more."""

SHORTEST_ARC_MM = 0.01
"""A shorter arc is a line: it leaves it by less than 3 µm, and rounding could turn a shorter one round."""

FLATTEST_ARC_MM = 0.0005
"""An arc that leaves its chord by less is a line: its centre would be far out."""

Spot = tuple[float, float]


@lru_cache(maxsize=1000)
def comment(text: str) -> tuple[str, ...]:
    """Write a text as comments in plain ASCII, which may not hold parentheses (section 3.3.4).

    >>> comment("Début (new)")
    ('(Debut  new)',)
    """
    plain = unicodedata.normalize("NFKD", text).replace("(", " ").replace(")", " ")
    shown = "".join(c if " " <= c <= "~" else "?" for c in plain if not unicodedata.combining(c))
    return tuple(f"({line})" for line in wrap(shown, COMMENT_WIDTH))


def numbered(lines: Iterable[str], step: int) -> Iterator[str]:
    """Begin each block with a line number, `step` apart; 0 for none. They start anew after 99999.

    >>> list(numbered(["G21", "M2"], 10))
    ['N10 G21', 'N20 M2']
    """
    line_number = 0
    for line in lines:
        line_number = line_number + step if line_number + step <= LARGEST_LINE_NUMBER else step
        yield f"N{line_number} {line}" if step else line


class Motion:
    """Writes motion: begins with place and feed, then remembers both and writes neither without need.

    Parameters
    ----------
    shift
        What is added to every point (mm).
    arcs
        Whether arcs are written as arcs; otherwise as lines.
    tolerance
        Largest distance in mm between an arc and the lines that stand for it.
    """

    def __init__(self, shift: Spot, arcs: bool, tolerance: float) -> None:
        self._shift, self._arcs, self._tolerance = shift, arcs, tolerance
        self._at: Spot | None = None
        self._words = ""
        self._feed = 0.0

    def travel(self, point: Spot) -> list[str]:
        """Write the move to a point, the beam being off."""
        return [f"G0 {self._words}"] if self._moves(point) else []

    def follow(self, contour: Contour, speed: float) -> list[str]:
        """Write the run along a contour from its first vertex, which is where the head is, in mm/s."""
        drawn = contour if self._arcs else _straight(contour, self._tolerance)
        blocks = [block for a, b in drawn.segments for block in self._segment(a, b)]
        feed = speed * 60
        if blocks and feed != self._feed:
            self._feed = feed
            blocks[0] += f" F{number(feed, 2)}"
        return blocks

    def _segment(self, a: Vertex, b: Vertex) -> list[str]:
        chord = math.dist(a[:2], b[:2])
        if chord * abs(a[2]) / 2 < FLATTEST_ARC_MM:
            return self._line(b[:2])
        arc = Arc.between(a, b)
        pieces = math.ceil(abs(arc.sweep) / WIDEST_ARC)
        ends = [arc.at(k / pieces) for k in range(1, pieces)] + [b[:2]]
        return [block for end in ends for block in self._arc_piece(arc, end)]

    def _line(self, end: Spot) -> list[str]:
        return [f"G1 {self._words}"] if self._moves(end) else []

    def _moves(self, end: Spot) -> bool:
        """Go to a point; tell whether that is a move as far as the decimals can show."""
        x, y = end[0] + self._shift[0], end[1] + self._shift[1]
        words = f"X{number(x, DECIMALS)} Y{number(y, DECIMALS)}"
        if words == self._words:
            return False
        self._at, self._words = (x, y), words
        return True

    def _arc_piece(self, arc: Arc, end: Spot) -> list[str]:
        shift_x, shift_y = self._shift
        start = self._at or (end[0] + shift_x, end[1] + shift_y)
        # as the numbers written have it, from which a reader works out the radius
        x, y = round(start[0], DECIMALS), round(start[1], DECIMALS)
        target = round(end[0] + shift_x, DECIMALS), round(end[1] + shift_y, DECIMALS)
        if math.dist((x, y), target) < SHORTEST_ARC_MM:
            return self._line(end)
        centre = f"I{number(arc.x + shift_x - x, DECIMALS)} J{number(arc.y + shift_y - y, DECIMALS)}"
        self._moves(end)
        return [f"G{3 if arc.sweep > 0 else 2} {self._words} {centre}"]


def _straight(contour: Contour, tolerance: float) -> Contour:
    return Contour.polyline(contour.flattened(tolerance).tolist(), closed=contour.closed)
