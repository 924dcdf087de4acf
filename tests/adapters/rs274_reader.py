"""A reader of RS-274/NGC programs that enforces the rules of NISTIR 6556 that a beam's program meets.

Written from the standard, it shares nothing with the writer. Section numbers are those of NISTIR 6556.
"""

import math
import re
from dataclasses import dataclass, field

MODAL_GROUPS = (  # section 3.4, table 4
    {"G0", "G1", "G2", "G3", "G80"}, {"G17", "G18", "G19"}, {"G90", "G91"}, {"G93", "G94"}, {"G20", "G21"},
    {"G40", "G41", "G42"}, {"G43", "G49"}, {"G61", "G64"}, {"M0", "M1", "M2", "M30"}, {"M3", "M4", "M5"},
    {"M7", "M9"}, {"G4", "G10", "G28", "G30"},
)  # fmt: skip
KNOWN = set().union(*MODAL_GROUPS)
WORD = re.compile(r"([A-Z])([+-]?(?:\d+\.?\d*|\.\d+))")


class RuleError(ValueError):
    """A rule of the standard is broken."""


@dataclass
class Stroke:
    """What the beam runs between going on and going off: points with the signed sweep that led to each."""

    power: float | None
    feed: float = 0.0
    points: list[complex] = field(default_factory=list)
    sweeps: list[float] = field(default_factory=list)

    def along(self, pieces: int = 16) -> list[complex]:
        """Points along the stroke, arcs by their own arithmetic."""
        found = [self.points[0]]
        for a, b, sweep in zip(self.points, self.points[1:], self.sweeps, strict=False):
            if sweep:
                centre = a + (b - a) / (1 - complex(math.cos(sweep), math.sin(sweep)))
                turns = [sweep * k / pieces for k in range(1, pieces)]
                found += [centre + (a - centre) * complex(math.cos(t), math.sin(t)) for t in turns]
            found.append(b)
        return found


class Reader:
    """Reads one program; `strokes` and `travels` are what it makes the machine do."""

    def __init__(self, text: str, on: str = "M3", off: str = "M5") -> None:
        self.strokes: list[Stroke] = []
        self.travels: list[tuple[complex | None, complex]] = []
        self.at: complex | None = None
        self.beam = False
        self.mode = ""
        self.modes: set[str] = set()
        self.feed = 0.0
        self.power: float | None = None
        self.ended = False
        self._on, self._off = on, off
        for line in _between_percents(text):
            self._line(line)
        if not self.ended and not text.startswith("%"):
            raise RuleError("a program ends with M2, M30 or a pair of % (3.2)")
        if self.beam:
            raise RuleError("the beam is on at the end")

    def _line(self, line: str) -> None:
        if len(line) > 256:
            raise RuleError("a line holds at most 256 characters (3.3)")
        words = _words(line)
        if self.ended and words:
            raise RuleError("nothing follows M2 or M30")
        codes = [letter + _code(value) for letter, value in words if letter in "GM"]
        _check_groups(codes)
        given = {letter: float(value) for letter, value in words if letter not in "GMN"}
        if ("G4" in codes) != ("P" in given) or given.get("P", 0.0) < 0:
            raise RuleError("G4 has a P of 0 s or more, and only G4 has one (3.5.4)")
        self.feed = given.get("F", self.feed)
        self._spindle(codes, given)
        self.modes |= set(codes)
        motion = [code for code in codes if code in MODAL_GROUPS[0]]
        self.mode = motion[0] if motion else self.mode
        if set("XY") & set(given):
            self._move(given)
        elif set(motion) & {"G0", "G1", "G2", "G3"}:
            raise RuleError(f"{motion[0]} needs an axis word (3.5.1 to 3.5.3)")
        self.ended = bool({"M2", "M30"} & set(codes))

    def _spindle(self, codes: list[str], given: dict[str, float]) -> None:
        """Do what acts before the motion of the line (3.8)."""
        if "S" in given:
            if given["S"] < 0:
                raise RuleError("S is not negative (3.7.2)")
            self.power = given["S"]
        if self._on in codes:
            self.beam = True
            self.strokes.append(Stroke(self.power, points=[] if self.at is None else [self.at]))
        if self._off in codes:
            self.beam = False

    def _move(self, given: dict[str, float]) -> None:
        if not {"G21", "G17", "G90", "G94"} <= self.modes:
            raise RuleError("units, plane, distance and feed modes are set before the first move")
        here = self.at
        if here is None and not {"X", "Y"} <= set(given):
            raise RuleError("the first move names both axes")
        x0, y0 = (here.real, here.imag) if here is not None else (0.0, 0.0)
        target = complex(given.get("X", x0), given.get("Y", y0))
        if self.mode == "G0":
            if self.beam:
                raise RuleError("the beam is on in a travel")
            self.travels.append((here, target))
        else:
            self._run(given, target)
        self.at = target

    def _run(self, given: dict[str, float], target: complex) -> None:
        if self.feed <= 0:
            raise RuleError("a feed of 0 with G1, G2 or G3 is an error (3.5.2, 3.5.3)")
        if not self.beam or self.at is None:
            raise RuleError("the beam is off in a run")
        stroke = self.strokes[-1]
        stroke.feed = self.feed
        stroke.points.append(target)
        stroke.sweeps.append(self._sweep(given, target) if self.mode in ("G2", "G3") else 0.0)

    def _sweep(self, given: dict[str, float], target: complex) -> float:
        if not set("IJ") & set(given):
            raise RuleError("a centre arc needs I or J (3.5.3.2)")
        assert self.at is not None
        centre = self.at + complex(given.get("I", 0.0), given.get("J", 0.0))
        radii = abs(self.at - centre), abs(target - centre)
        if abs(radii[0] - radii[1]) > 0.002:
            raise RuleError(f"the radii at the ends of an arc differ by {abs(radii[0] - radii[1]):.4f} mm")
        turn = math.atan2(*reversed(_parts((target - centre) / (self.at - centre))))
        if self.mode == "G3":
            return turn if turn > 0 else turn + 2 * math.pi
        return turn if turn < 0 else turn - 2 * math.pi


def _parts(value: complex) -> tuple[float, float]:
    return value.real, value.imag


def _between_percents(text: str) -> list[str]:
    lines = text.split("\n")
    if not lines or lines.pop() != "":
        raise RuleError("the last line ends with a line break")
    if not lines or lines[0].strip() != "%":
        if any("%" in line for line in lines):
            raise RuleError("a % stands alone on the first and the last line (3.2)")
        return lines
    if lines[-1].strip() != "%" or len(lines) < 2:
        raise RuleError("a program that starts with % ends with % (3.2)")
    return lines[1:-1]


def _words(line: str) -> list[tuple[str, str]]:
    if not all(" " <= c <= "~" for c in line):
        raise RuleError("only printable ASCII")
    bare = re.sub(r"\([^()]*\)", "", line)
    if "(" in bare or ")" in bare:
        raise RuleError("comments do not nest and close on their line (3.3.4)")
    packed = bare.replace(" ", "").upper()
    words = WORD.findall(packed)
    if "".join(letter + value for letter, value in words) != packed:
        raise RuleError(f"not made of words: {line!r} (3.3.2)")
    letters = [letter for letter, _ in words if letter not in "GM"]
    if len(letters) != len(set(letters)):
        raise RuleError("a letter other than G and M is given once a line (3.3.3)")
    numbers = [k for k, (letter, _) in enumerate(words) if letter == "N"]
    if numbers and (numbers != [0] or not re.fullmatch(r"\d{1,5}", words[0][1])):
        raise RuleError("a line number comes first, 0 to 99999 without a sign (3.3.1)")
    return words


def _code(value: str) -> str:
    return f"{float(value):g}"


def _check_groups(codes: list[str]) -> None:
    if unknown := set(codes) - KNOWN:
        raise RuleError(f"unknown codes {sorted(unknown)}")
    for group in MODAL_GROUPS:
        if len(group & set(codes)) > 1:
            raise RuleError(f"two of one modal group on a line: {sorted(group & set(codes))} (3.4)")
    if sum(code.startswith("M") for code in codes) > 4:
        raise RuleError("at most four M words a line (3.3.3)")
