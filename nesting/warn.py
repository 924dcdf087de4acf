"""What the operator should know before starting, each a sentence."""

from collections.abc import Iterator, Sequence
from itertools import pairwise

from nesting.fixture.bend import bend_warnings
from nesting.fixture.focus import focus_warnings
from nesting.fixture.notch import notch_warnings
from nesting.fixture.overhang import overhang_warnings
from nesting.fixture.sheet_marks import sheet_mark_warnings
from nesting.fixture.strength import strength_warnings
from nesting.job.job import Job
from nesting.job.materials import is_known
from nesting.plan_values import CutSheet, Load, Marking


def warnings_for(
    job: Job,
    sheets: Sequence[CutSheet],
    loads: Sequence[Load],
    markings: Sequence[Marking],
    kept: Sequence[CutSheet] = (),
) -> tuple[str, ...]:
    """Collect the warnings of a plan, from its sheets to cut, its loads and markings, and its kept sheets."""
    found = (
        *_materials(job),
        *_low_blanks(job, (*kept, *sheets)),
        *_unmarked(job),
        *_refocus(loads),
        *_several_heights(loads),
        *strength_warnings(job, sheets),
        *notch_warnings(job, sheets),
        *overhang_warnings(job, sheets),
        *sheet_mark_warnings(job, sheets),
        *focus_warnings(job, loads, markings),
        *bend_warnings(job, loads, markings),
    )
    return tuple(dict.fromkeys(found))


def _materials(job: Job) -> Iterator[str]:
    stated = [stock.material for stock in job.stock] + [
        blank.material for blank in job.blanks if blank.material
    ]
    for material in stated:
        if not is_known(material):
            yield (
                f"material {material!r} is not a usual one and was acknowledged in the job: "
                "work only with its data sheet at hand"
            )


def _low_blanks(job: Job, sheets: Sequence[CutSheet]) -> Iterator[str]:
    """Warn of a marked surface below the sheet's face: the beam may clip the pocket's rim."""
    thickness = {name: stock.thickness for name, stock in job.all_stock.items()}
    heights = {blank.name: blank.height for blank in job.blanks}
    for sheet in sheets:
        face = thickness[sheet.stock]
        low = [name for name in dict.fromkeys(p.blank for p in sheet.pockets) if heights[name] < face]
        if low:
            listed = ", ".join(f"{name} ({heights[name]:g} mm)" for name in low)
            yield (
                f"sheet {sheet.name}: lower than the sheet's face ({face:g} mm) lie {listed}: "
                "they are hard to lift out, and the pocket's rim may shade their edge"
            )


def _unmarked(job: Job) -> Iterator[str]:
    for order in job.orders:
        if not order.artworks:
            yield f"order line {order.name}: no artwork is stated, so its units are placed but not marked"


def _several_heights(loads: Sequence[Load]) -> Iterator[str]:
    """Warn of loads in which the focus changes while they are marked."""
    several = [load for load in loads if len(load.focus_heights) > 1]
    if several:
        numbers = ", ".join(str(load.number) for load in several)
        highest = max(height for load in several for height in load.focus_heights)
        yield (
            f"the focus changes within load {numbers}, from the lowest blanks up to {highest:g} mm: make "
            "sure that the head, in focus for the lowest, clears the highest"
        )


def _refocus(loads: Sequence[Load]) -> Iterator[str]:
    """Warn where the focus height changes from one load to the next."""
    changed = [b for a, b in pairwise(loads) if abs(a.focus_heights[-1] - b.focus_height) > 1e-9]
    if changed:
        numbers = ", ".join(str(load.number) for load in changed)
        yield f"refocus before load {numbers}: the marked surface lies at another height than before"
