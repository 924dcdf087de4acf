"""The check of fills swept together: what the beam runs over all of them, worked out anew."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from nesting.check.stretch import Stretch

_ROW_MM = 1e-3
"""Sweeps of one line lie no further apart across it."""


@dataclass(frozen=True)
class _Span:
    row: float
    low: float
    high: float


def joint_fault(members: Sequence[Stretch]) -> str | None:
    """Say why stretches cannot be swept together."""
    if any(not member.sweeps for member in members):
        return "joined to the step before, but only fills are swept together"
    if len({(member.setting, member.passes) for member in members}) > 1:
        return "joined to a step with another setting; run it by itself"
    along = _along(members)
    for member in members:
        for a, b in member.sweeps:
            if abs(((b - a) / along).imag) > _ROW_MM:
                return "joined to a step whose sweeps run in another direction; run it by itself"
    return None


def joint_stretch(members: Sequence[Stretch]) -> Stretch:
    """Make the stretch that sweeps the members line by line, every other line backwards."""
    along = _along(members)
    ends = [(a / along, b / along) for member in members for a, b in member.sweeps]
    spans = sorted(
        (_Span((a + b).imag / 2, min(a.real, b.real), max(a.real, b.real)) for a, b in ends),
        key=lambda span: span.row,
    )
    lines = _lines(spans)
    length = math.fsum(_covered(line) for line in lines)
    first, last = lines[0], lines[-1]
    begin = complex(min(span.low for span in first), first[0].row)
    end_at = max(s.high for s in last) if len(lines) % 2 else min(s.low for s in last)
    end = complex(end_at, last[0].row)
    return replace(members[0], vertices=(begin * along, end * along), length=length * members[0].passes)


def _along(members: Sequence[Stretch]) -> complex:
    a, b = max((sweep for member in members for sweep in member.sweeps), key=lambda s: abs(s[1] - s[0]))
    along = (b - a) / abs(b - a) if b != a else 1 + 0j
    along = complex(
        0.0 if abs(along.real) < 1e-9 else along.real, 0.0 if abs(along.imag) < 1e-9 else along.imag
    )
    return -along if (along.real, along.imag) < (0, 0) else along


def _lines(spans: Sequence[_Span]) -> list[list[_Span]]:
    """Part spans, sorted by row, where a new line begins."""
    lines: list[list[_Span]] = []
    for span in spans:
        if lines and span.row - lines[-1][-1].row <= _ROW_MM / 10:
            lines[-1].append(span)
        else:
            lines.append([span])
    return lines


def _covered(line: Sequence[_Span]) -> float:
    """Length of a line that is swept, where spans overlap once."""
    total, reach = 0.0, -math.inf
    for span in sorted(line, key=lambda span: span.low):
        total += max(span.high - max(span.low, reach), 0.0)
        reach = max(reach, span.high)
    return total
