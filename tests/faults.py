"""Faults to make on purpose in a sound plan, whatever plan it is, and how the check must call them."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date
from itertools import islice

from nesting.check import Kind
from nesting.geometry.contour import Contour
from nesting.geometry.region import Region
from nesting.plan_values import Cost, Marking, Part, Path, Placed, Plan, Pocket, Step, Trace

Fault = Callable[[Plan], Plan | None]
"""Makes the fault; None where the plan has nothing to make it in."""


def with_job(plan: Plan, **changes: object) -> Plan:
    """Change what was asked, but not the answer."""
    return replace(plan, job=replace(plan.job, **changes))  # type: ignore[arg-type]


def with_sheet(plan: Plan, **changes: object) -> Plan:
    """Change the first sheet."""
    return replace(plan, sheets=(replace(plan.sheets[0], **changes), *plan.sheets[1:]))  # type: ignore[arg-type]


def with_pocket(plan: Plan, change: Callable[[Pocket], Pocket], which: int = 0) -> Plan:
    """Change a pocket of the first sheet."""
    pockets = list(plan.sheets[0].pockets)
    pockets[which] = change(pockets[which])
    return with_sheet(plan, pockets=tuple(pockets))


def with_cut_path(plan: Plan, change: Callable[[Path], Path]) -> Plan:
    """Change the cut path of the first sheet."""
    return with_sheet(plan, cut_path=change(plan.sheets[0].cut_path))


def with_load(plan: Plan, **changes: object) -> Plan:
    """Change the first load."""
    return replace(plan, loads=(replace(plan.loads[0], **changes), *plan.loads[1:]))  # type: ignore[arg-type]


def with_filling(plan: Plan, **changes: object) -> Plan:
    """Change the first filling of the first load."""
    fillings = plan.loads[0].fillings
    return with_load(plan, fillings=(replace(fillings[0], **changes), *fillings[1:]))  # type: ignore[arg-type]


def with_marking(plan: Plan, which: int, change: Callable[[Marking], Marking]) -> Plan:
    """Change a marking."""
    markings = list(plan.markings)
    markings[which] = change(markings[which])
    return replace(plan, markings=tuple(markings))


def moved(pocket: Pocket, dx: float, dy: float) -> Pocket:
    """Move a pocket with all that belongs to it."""
    path = tuple(contour.moved(dx, dy) for contour in pocket.path)
    x, y = round(pocket.x + dx, 3), round(pocket.y + dy, 3)
    return replace(pocket, x=x, y=y, outline=pocket.outline.moved(dx, dy), path=path)


def turned(pocket: Pocket, by: float) -> Pocket:
    """Turn a pocket round its blank's (0, 0) with all that belongs to it."""

    def spun(contour: Contour) -> Contour:
        return contour.moved(-pocket.x, -pocket.y).moved(pocket.x, pocket.y, by)

    outline = Region(spun(pocket.outline.outer))
    return replace(pocket, turn=pocket.turn + by, outline=outline, path=tuple(map(spun, pocket.path)))


def with_parts(marking: Marking, parts: Sequence[Part]) -> Marking:
    """Give a marking other parts, as many as it has."""
    left = iter(parts)
    return replace(
        marking, placed=tuple(replace(p, parts=tuple(islice(left, len(p.parts)))) for p in marking.placed)
    )


def marking_moved(marking: Marking, dx: float, dy: float) -> Marking:
    """Move a marking on its blank with all that belongs to it."""

    def part_moved(part: Part) -> Part:
        sweeps = tuple((a + dx, b + dy, c + dx, d + dy) for a, b, c, d in part.sweeps)
        return replace(part, contours=tuple(c.moved(dx, dy) for c in part.contours), sweeps=sweeps)

    placed = (
        replace(p, x=p.x + dx, y=p.y + dy, parts=tuple(map(part_moved, p.parts))) for p in marking.placed
    )
    return replace(marking, placed=tuple(placed))


def _onto_neighbour(plan: Plan) -> Plan | None:
    pockets = plan.sheets[0].pockets if plan.sheets else ()
    if len(pockets) < 2:
        return None
    a, b = pockets[0], pockets[1]
    dx, dy = (round(m / 1.5, 3) for m in _between(a.outline, b.outline))
    return with_pocket(plan, lambda pocket: moved(pocket, dx, dy))


def _between(a: Region, b: Region) -> tuple[float, float]:
    (ax, ay, aX, aY), (bx, by, bX, bY) = a.bounds, b.bounds  # noqa: N806 - upper case for the upper end
    return (bx + bX - ax - aX) / 2, (by + bY - ay - aY) / 2


def _off_the_sheet(plan: Plan) -> Plan | None:
    stock = next(s for s in plan.job.stock if s.name == plan.sheets[0].stock)
    return with_pocket(plan, lambda pocket: moved(pocket, round(stock.width, 3), 0))


def _keep_out_under_a_pocket(plan: Plan) -> Plan:
    x0, y0, x1, y1 = plan.sheets[0].pockets[0].outline.bounds
    keep_out = Region.rectangle(1, 1).moved((x0 + x1) / 2, (y0 + y1) / 2)
    stock = tuple(replace(s, keep_outs=(*s.keep_outs, keep_out)) for s in plan.job.stock)
    return with_job(plan, stock=stock)


def _unit_twice(plan: Plan) -> Plan | None:
    fillings = plan.loads[0].fillings
    if len(fillings) < 2:
        return None
    return with_load(plan, fillings=(fillings[0], replace(fillings[1], unit=fillings[0].unit), *fillings[2:]))


def _other_artwork(plan: Plan) -> Plan | None:
    here = plan.loads[0].fillings[0].marking
    artworks = plan.marking(here).artworks if here else None
    other = next((m.name for m in plan.markings if m.artworks != artworks), None)
    return with_filling(plan, marking=other) if other else None


def _no_artwork(plan: Plan) -> Plan | None:
    return with_filling(plan, marking=None) if plan.loads[0].fillings[0].marking else None


def _stock_used_up(plan: Plan) -> Plan:
    copies = (*plan.sheets, replace(plan.sheets[0], name="copy"))
    stock = tuple(
        replace(s, quantity=sum(t.stock == s.name for t in plan.sheets) or 1) for s in plan.job.stock
    )
    return with_job(replace(plan, sheets=copies), stock=stock)


def _filling_doubled(plan: Plan) -> Plan:
    fillings = plan.loads[0].fillings
    return with_load(plan, fillings=(*fillings, fillings[0]))


def _in_another_blanks_pocket(plan: Plan) -> Plan | None:
    pockets = {pocket.number: pocket.blank for pocket in plan.sheet(plan.loads[0].sheet).pockets}
    here = pockets[plan.loads[0].fillings[0].pocket]
    other = next((number for number, blank in pockets.items() if blank != here), None)
    return with_filling(plan, pocket=other) if other else None


def _filled(change: Callable[[Part], Part]) -> Fault:
    return lambda plan: _with_fill(plan, change)


def _with_fill(plan: Plan, change: Callable[[Part], Part]) -> Plan | None:
    for k, marking in enumerate(plan.markings):
        for n, part in enumerate(marking.parts):
            if part.kind == "fill":
                parts = (*marking.parts[:n], change(part), *marking.parts[n + 1 :])
                return with_marking(plan, k, lambda m, parts=parts: with_parts(m, parts))  # type: ignore[misc]
    return None


def _sweep_longer(part: Part) -> Part:
    (x0, y0, x1, y1), *rest = part.sweeps
    return replace(part, sweeps=((x0, y0, 2 * x1 - x0, 2 * y1 - y0), *rest))


def _placed(change: Callable[[Placed], Placed]) -> Fault:
    return _said(lambda m: replace(m, placed=(change(m.placed[0]), *m.placed[1:])))


def _said(change: Callable[[Marking], Marking]) -> Fault:
    return lambda plan: with_marking(plan, 0, change) if plan.markings else None


def _pocket(change: Callable[[Pocket], Pocket]) -> Fault:
    return lambda plan: with_pocket(plan, change)


def _cut(change: Callable[[Path], Path]) -> Fault:
    return lambda plan: with_cut_path(plan, change)


def _unit(**changes: object) -> Fault:
    def make(plan: Plan) -> Plan:
        return with_filling(plan, unit=replace(plan.loads[0].fillings[0].unit, **changes))  # type: ignore[arg-type]

    return make


def _machine(**changes: object) -> Fault:
    return lambda plan: with_job(plan, machine=replace(plan.job.machine, **changes))  # type: ignore[arg-type]


def _sweep_amid_dropped(fill: Part) -> Part:
    # the area may be covered well enough without the first or the last one
    amid = len(fill.sweeps) // 2
    kept = (*fill.sweeps[:amid], *fill.sweeps[amid + 1 :]) if len(fill.sweeps) > 2 else ()
    return replace(fill, sweeps=kept)


def _origin_elsewhere(plan: Plan) -> Plan:
    across = {"left": "right", "right": "left"}
    side, end = plan.job.machine.origin.split()
    return with_job(plan, machine=replace(plan.job.machine, origin=f"{side} {across[end]}"))  # type: ignore[arg-type]


def _sheet_to_spare(plan: Plan) -> Plan:
    return replace(plan, sheets=(*plan.sheets, replace(plan.sheets[0], name="spare")))


def _filled_again_though_used_once(plan: Plan) -> Plan | None:
    filled = [(load.sheet, filling.pocket) for load in plan.loads for filling in load.fillings]
    return with_job(plan, sheet_use="once") if len(set(filled)) < len(filled) else None


def _customers_together(plan: Plan) -> Plan | None:
    lines = {filling.unit.line for filling in plan.loads[0].fillings}
    orders = tuple(replace(order, customer=f"of {order.name}") for order in plan.job.orders)
    return with_job(plan, same_in_load=("customer",), orders=orders) if len(lines) > 1 else None


def _due_earlier(plan: Plan) -> Plan | None:
    blanks = {order.name: order.blank for order in plan.job.orders}
    early = {blanks[f.unit.line]: f.unit.line for f in reversed(plan.loads[0].fillings)}
    for load in plan.loads[1:]:
        for line in (filling.unit.line for filling in load.fillings):
            if early.get(blanks[line], line) != line:
                due = {line: date(2000, 1, 1)}
                return with_job(
                    plan, orders=tuple(replace(o, spares=0, due=due.get(o.name)) for o in plan.job.orders)
                )
    return None


def _marks(change: Callable[[Path], Path]) -> Fault:
    def make(plan: Plan) -> Plan | None:
        path = plan.loads[0].mark_path
        return with_load(plan, mark_path=change(path)) if path.steps else None

    return make


def _blanks(plan: Plan, **changes: object) -> Plan:
    return with_job(plan, blanks=tuple(replace(b, **changes) for b in plan.job.blanks))  # type: ignore[arg-type]


def _stock(plan: Plan, **changes: object) -> Plan:
    return with_job(plan, stock=tuple(replace(s, **changes) for s in plan.job.stock))  # type: ignore[arg-type]


def _footprint_as_outline(plan: Plan) -> Plan | None:
    blank = next(b for b in plan.job.blanks if b.name == plan.sheets[0].pockets[0].blank)
    if blank.clearance < 0.01:
        return None
    outline = Region(blank.footprint.outer)
    return with_pocket(plan, lambda p: replace(p, outline=outline.moved(p.x, p.y, p.turn)))


def _kerf_ignored(plan: Plan) -> Plan | None:
    if min(plan.job.machine.kerf.values(), default=0) < 0.01:
        return None
    return with_pocket(plan, lambda p: replace(p, path=p.outline.contours))


def _with_island(pocket: Pocket) -> Pocket:
    x0, y0, x1, y1 = pocket.outline.bounds
    island = Contour.circle(1, (x0 + x1) / 2, (y0 + y1) / 2)
    return replace(pocket, outline=Region(pocket.outline.outer, (island,)))


def _led_in_from_afar(path: Path) -> Path:
    return replace(path, steps=(replace(path.steps[0], lead=(-500.0, -500.0)), *path.steps[1:]))


def _heated(plan: Plan) -> Plan | None:
    if sum(len(sheet.cut_path.steps) > 1 for sheet in plan.sheets) == 0:
        return None
    return with_job(plan, machine=replace(plan.job.machine, heat_distance=1e4, heat_time=600.0))


def _all_joined(path: Path) -> Path:
    # a path of one step is joined to nothing
    return replace(
        path, steps=tuple(replace(s, joined=k > 0 or len(path.steps) == 1) for k, s in enumerate(path.steps))
    )


def _first_joined(path: Path) -> Path:
    return replace(path, steps=(replace(path.steps[0], joined=True), *path.steps[1:]))


def _starting_nowhere(path: Path) -> Path:
    return replace(path, steps=(replace(path.steps[0], start=10**6), *path.steps[1:]))


def _other_interval(plan: Plan) -> Plan | None:
    if not any(len(part.sweeps) > 3 for marking in plan.markings for part in marking.parts):
        return None
    settings = tuple(replace(s, interval=s.interval * 0.7) for s in plan.job.settings)
    return with_job(plan, settings=settings)


FAULTS: dict[str, tuple[Kind, Fault]] = {
    "pocket moved onto its neighbour": ("overlap", _onto_neighbour),
    "pocket off the sheet": ("margin", _off_the_sheet),
    "blank moved 0.01 mm in its pocket": ("clearance", _pocket(lambda k: replace(k, x=round(k.x + 0.01, 3)))),
    "blank off the grid": ("grid", _pocket(lambda k: replace(k, y=k.y + 0.0004))),
    "blank nowhere": ("number", _pocket(lambda k: replace(k, x=float("nan")))),
    "pocket turned by 1°": ("turn", _pocket(lambda k: turned(k, 1))),
    "pocket number doubled": ("pocket", _pocket(lambda k: replace(k, number=k.number + 1))),
    "blank unknown": ("pocket", _pocket(lambda k: replace(k, blank="?"))),
    "no clearance": ("clearance", _footprint_as_outline),
    "clearance asked for is larger": ("clearance", lambda p: _blanks(p, clearance=7.0)),
    "island in a pocket": ("clearance", _pocket(_with_island)),
    "kerf ignored": ("kerf", _kerf_ignored),
    "pocket not cut": ("kerf", _pocket(lambda k: replace(k, path=()))),
    "pocket cut twice": ("kerf", _pocket(lambda k: replace(k, path=k.path * 2))),
    "keep-out entered": ("keep-out", _keep_out_under_a_pocket),
    "margin asked for is larger": ("margin", lambda p: _stock(p, margin=1000.0)),
    "web asked for is larger": ("web", lambda p: with_job(p, web=1000.0)),
    "stock used too often": ("sheet", _stock_used_up),
    "stock unknown": ("sheet", lambda p: with_sheet(p, stock="?")),
    "sheet never loaded": ("sheet", _sheet_to_spare),
    "bed too small": ("sheet", _machine(bed_width=1.0)),
    "fill falsified": ("number", lambda p: with_sheet(p, fill=p.sheets[0].fill + 0.01)),
    "cut step dropped": ("path", _cut(lambda c: replace(c, steps=c.steps[1:]))),
    "cut step doubled": ("path", _cut(lambda c: replace(c, steps=(*c.steps, c.steps[0])))),
    "cut step unknown": ("path", _cut(lambda c: replace(c, steps=(*c.steps, Step(1, 9))))),
    "cut starts nowhere": ("path", _cut(_starting_nowhere)),
    "cut travel falsified": ("travel", _cut(lambda c: replace(c, travel=c.travel - 0.1))),
    "cut length falsified": ("travel", _cut(lambda c: replace(c, beam=c.beam + 0.1))),
    "comparison falsified": ("travel", _cut(lambda c: replace(c, numbered_travel=c.numbered_travel + 9))),
    "cut time without end": ("number", _cut(lambda c: replace(c, seconds=float("inf")))),
    "origin elsewhere": ("travel", _origin_elsewhere),
    "load numbered anew": ("load", lambda p: with_load(p, number=len(p.loads) + 1)),
    "load of no sheet": ("load", lambda p: with_load(p, sheet="?")),
    "load without units": ("load", lambda p: with_load(p, fillings=())),
    "two units in a pocket": ("load", _filling_doubled),
    "no such pocket": ("load", lambda p: with_filling(p, pocket=9999)),
    "pocket filled again though used once": ("load", _filled_again_though_used_once),
    "customers together that are to be apart": ("load", _customers_together),
    "due earlier, loaded later": ("due", _due_earlier),
    "unit dropped": ("unit", lambda p: with_load(p, fillings=p.loads[0].fillings[1:])),
    "unit doubled": ("unit", _unit_twice),
    "unit unknown": ("unit", _unit(number=10**6)),
    "unit of no order line": ("unit", _unit(line="?")),
    "unit in another blank's pocket": ("unit", _in_another_blanks_pocket),
    "unplaced made up": ("unit", lambda p: replace(p, unplaced=(*p.unplaced, (p.job.orders[0].name, 1)))),
    "artwork swapped": ("artwork", _other_artwork),
    "artwork left out": ("artwork", _no_artwork),
    "marking unknown": ("artwork", lambda p: with_filling(p, marking="?")),
    "focus 1 mm too high": ("height", lambda p: with_load(p, focus_height=p.loads[0].focus_height + 1.1)),
    "marking said to be turned by 1°": ("marking", _placed(lambda p: replace(p, turn=p.turn + 1))),
    "marking said to be larger": ("marking", _placed(lambda p: replace(p, scale=p.scale * 1.01))),
    "marking said to be 0.01 mm away": ("marking", _placed(lambda p: replace(p, x=p.x + 0.01))),
    "marking without a part": ("marking", _placed(lambda p: replace(p, parts=p.parts[1:]))),
    "part marked twice": ("marking", _placed(lambda p: replace(p, parts=p.parts * 2))),
    "artwork said to be mirrored": ("marking", _placed(lambda p: replace(p, mirrored=True))),
    "text said of a drawing": ("marking", _placed(lambda p: replace(p, text="?"))),
    "mark outside its area": ("mark-area", _said(lambda m: marking_moved(m, 1000, 0))),
    "sweep dropped": ("sweep", _filled(_sweep_amid_dropped)),
    "sweeps left out": ("sweep", _filled(lambda f: replace(f, sweeps=()))),
    "sweep too long": ("sweep", _filled(_sweep_longer)),
    "interval asked for is another": ("sweep", _other_interval),
    "cut begun outside the waste": ("path", _cut(_led_in_from_afar)),
    "cut path faster than is possible": ("bound", _cut(lambda c: replace(c, bound=c.seconds * 2 + 1))),
    "waits that nobody waits": (
        "number",
        _cut(lambda c: replace(c, times=replace(c.times, wait=c.times.wait + 1))),
    ),
    "trace beside the sheet": (
        "path",
        lambda plan: with_sheet(plan, trace=Trace(((0.0, 0.0), (9.0, 0.0), (9.0, 9.0)), 1.0)),
    ),
    "trace beside the marks": (
        "path",
        lambda plan: with_load(plan, trace=Trace(((-9.0, 0.0), (900.0, 0.0), (900.0, 9.0)), 1.0)),
    ),
    "sheet to be cut out": ("path", lambda plan: _stock(plan, cut_out=True)),
    "neighbours cut too soon": ("path", _heated),
    "cuts swept together": ("path", _cut(_all_joined)),
    "marks joined to nothing": ("path", _marks(_first_joined)),
    "mark step dropped": ("path", _marks(lambda m: replace(m, steps=m.steps[1:]))),
    "mark step doubled": ("path", _marks(lambda m: replace(m, steps=(*m.steps, m.steps[0])))),
    "mark travel falsified": ("travel", _marks(lambda m: replace(m, travel=m.travel + 0.1))),
    "bound above the plan": ("bound", lambda p: replace(p, bound=len(p.sheets) + 1)),
    "loads bound above the plan": ("bound", lambda p: replace(p, loads_bound=len(p.loads) + 1)),
    "cost made up": ("number", lambda p: replace(p, cost=Cost(stock=1e6))),
    "cost bound above the plan": ("bound", lambda p: replace(p, cost=Cost(bound=1e9))),
    "proof made up": ("bound", lambda p: replace(p, bound=len(p.sheets) - 1, proven=True)),
}  # fmt: skip
"""What is done, the kind of violation that must be among those reported, and how it is done."""
