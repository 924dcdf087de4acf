"""What the beam should run, from a plan's values alone."""

from nesting.geometry.contour import Contour
from nesting.plan_values import Load, Part, Plan, Step
from nesting.routing.rows import placed_sweeps, swept_together

Group = tuple[str, list[Contour]]
"""Kind of the parts, and the strokes on the sheet."""


def expected_cuts(plan: Plan, name: str) -> list[Contour]:
    """Every cut of a sheet, in order; a lead-in is a straight line to the contour's start."""
    sheet = plan.sheet(name)
    paths = {0: sheet.outline_path} | {pocket.number: pocket.path for pocket in sheet.pockets}
    cuts = []
    for step in sheet.cut_path.steps:
        contour = as_run(paths[step.pocket][step.part], step)
        if step.lead is not None:
            x, y, _ = contour.vertices[0]
            contour = Contour(((*step.lead, 0.0), *contour.vertices, (x, y, 0.0)), closed=False)
        cuts.append(contour)
    return cuts


def expected_groups(plan: Plan, load: Load) -> list[Group]:
    """Give what is marked in one go, one pass of it."""
    groups: list[list[Step]] = []
    for step in load.mark_path.steps:
        if step.joined:
            groups[-1].append(step)
        else:
            groups.append([step])
    return [_strokes(plan, load, group) for group in groups]


def expected_marks(plan: Plan, load: Load) -> list[Contour]:
    """Every stroke of a load, passes repeated."""
    settings = {setting.name: setting.passes for setting in plan.job.settings}
    blanks = {blank.name: settings[blank.setting] for blank in plan.job.blanks}
    pockets = {pocket.number: pocket.blank for pocket in plan.sheet(load.sheet).pockets}
    passes, strokes = iter(load.mark_path.steps), []
    firsts = [step for step in passes if not step.joined]
    for step, (_, lines) in zip(firsts, expected_groups(plan, load), strict=True):
        strokes += lines * blanks[pockets[step.pocket]]
    return strokes


def as_run(contour: Contour, step: Step) -> Contour:
    """Give a contour the start and the direction of a step."""
    started = contour.started(step.start) if contour.closed else contour
    return started.reversed() if step.backwards else started


def _strokes(plan: Plan, load: Load, steps: list[Step]) -> Group:
    pockets = {pocket.number: pocket for pocket in plan.sheet(load.sheet).pockets}
    markings = {filling.pocket: filling.marking for filling in load.fillings}
    parts = [plan.marking(markings[step.pocket] or "").parts[step.part] for step in steps]
    places = [(pockets[s.pocket].x, pockets[s.pocket].y, pockets[s.pocket].turn) for s in steps]
    if len(steps) == 1:
        return parts[0].kind, [c.moved(*places[0]) for c in _part_strokes(parts[0], steps[0])]
    swept = swept_together([placed_sweeps(p.sweeps, at) for p, at in zip(parts, places, strict=True)])
    return parts[0].kind, _lines(swept, steps[0].backwards)


def _part_strokes(part: Part, step: Step) -> list[Contour]:
    return [as_run(part.contours[0], step)] if part.kind == "line" else _lines(part.sweeps, step.backwards)


def _lines(sweeps: tuple[tuple[float, float, float, float], ...], backwards: bool) -> list[Contour]:
    ends = [(sweep[:2], sweep[2:]) for sweep in sweeps]
    turned = [(b, a) for a, b in reversed(ends)] if backwards else ends
    return [Contour.polyline(pair, closed=False) for pair in turned]
