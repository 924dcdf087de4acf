"""Rules that hold for layouts and for the sheets of a plan."""

from collections.abc import Iterable, Sequence

from nesting.check.report import Findings, Kind
from nesting.check.solids import Floats, Solids

_GRID_PER_MM = 1000


def on_grid(value_mm: float) -> bool:
    """Tell whether a coordinate is a whole number of µm, as nearly as a float can say."""
    return abs(value_mm * _GRID_PER_MM - round(value_mm * _GRID_PER_MM)) <= 1e-6


def turn_allowed(turn: float, turns: Iterable[float]) -> bool:
    """Tell whether a turn is one of those allowed, whole turns aside."""
    return any(abs((turn - allowed + 180) % 360 - 180) <= 1e-9 for allowed in turns)


def check_pairs(
    kind: Kind, solids: Solids, needs: Floats, names: Sequence[str], place: str, findings: Findings
) -> None:
    """Check that solids do not overlap, and that between two the larger of what they need is clear."""
    for i, j, clear in solids.too_close(needs):
        both = f"{place}, {names[i]} and {names[j]}"
        if clear < 0:
            findings.add("overlap", both, "they overlap; move them apart")
        else:
            found = f"{clear:.4f} mm apart; the {kind} is {max(needs[i], needs[j]):g} mm; move them apart"
            findings.add(kind, both, found)


def add_near_edge(kind: Kind, clear: float, need: float, place: str, findings: Findings) -> None:
    """Note what is too near to a sheet's edge; below 0 it is beyond."""
    found = "leaves the sheet" if clear < 0 else f"{clear:.4f} mm from the sheet's edge"
    findings.add(kind, place, f"{found}; the {kind} is {need:g} mm; move it in")
