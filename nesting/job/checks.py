"""What must hold between the parts of a job: names, materials, sizes."""

from collections.abc import Iterable, Mapping

from nesting import _plugins
from nesting.job.draft import Draft
from nesting.job.findings import Findings, key_path, nearest
from nesting.job.job import Blank, KeptSheet, Machine, Stock
from nesting.job.materials import is_chlorinated, is_known
from nesting.plug_in_options import Options, option_problems

SLACK_MM = 1e-6
"""Sums of lengths that are equal in decimals may differ by this in binary."""


def check_names(draft: Draft, findings: Findings) -> None:
    """Note names that are given twice."""
    for key in ("settings", "stock", "blanks", "artworks"):
        seen: set[str] = set()
        for k, name in draft.names(key).items():
            if name in seen:
                findings.add(key_path(key, k, "name"), f"found {name!r} a second time; a name is given once")
            seen.add(name)


def check_settings(blanks: Mapping[int, Blank], settings: Iterable[str], findings: Findings) -> None:
    """Note mark settings that blanks name and nobody made."""
    known = list(settings)
    for k, blank in blanks.items():
        if blank.setting not in known:
            message = f"unknown mark setting {blank.setting!r}{nearest(blank.setting, known)}"
            findings.add(key_path("blanks", k, "setting"), message)


def check_reliefs(blanks: Mapping[int, Blank], findings: Findings) -> None:
    """Note corner reliefs that lie within the clearance, or are asked of a body."""
    for k, blank in blanks.items():
        if blank.corner_relief and blank.solid is not None:
            message = "found a corner relief; a body has no corners, leave it out"
        elif 0 < blank.corner_relief <= 2 * blank.clearance:
            message = f"found {blank.corner_relief:g} mm; allowed: more than twice the clearance of "
            message += f"{blank.clearance:g} mm, or 0 for none"
        else:
            continue
        findings.add(key_path("blanks", k, "corner_relief"), message)


def check_materials(materials: Mapping[str, str], acknowledged: Iterable[str], findings: Findings) -> None:
    """Note materials that are refused, or must be acknowledged first.

    Parameters
    ----------
    materials
        Material by the key path it stands at.
    acknowledged
        Materials that the job acknowledges.
    findings
        Where problems go.
    """
    accepted = {name.casefold() for name in acknowledged}
    for where, material in materials.items():
        if is_chlorinated(material):
            message = f"found {material!r}; refused, for the beam makes hydrogen chloride of its chlorine"
            findings.add(where, message)
        elif not is_known(material) and material.casefold() not in accepted:
            message = (
                f"found {material!r}, which is not a known material; get its data sheet, and if it is safe "
                f"to mark, add {material!r} to acknowledged_materials"
            )
            findings.add(where, message)


def check_stock(stock: Mapping[int, Stock], machine: Machine | None, findings: Findings) -> None:
    """Note sheets that the machine cannot take: larger than the bed, or of a material without a kerf."""
    if machine is None:
        return
    for k, sheet in stock.items():
        if sheet.material not in machine.kerf:
            message = f"no kerf for the stock's material {sheet.material!r}"
            message += nearest(sheet.material, machine.kerf)
            findings.add("machine.kerf", message)
        # a sheet that is cut out takes the kerf round it too
        edge = machine.kerf.get(sheet.material, 0.0) if sheet.cut_out else 0.0
        width, height = sheet.width + edge, sheet.height + edge
        if width > machine.bed_width + SLACK_MM or height > machine.bed_height + SLACK_MM:
            message = (
                f"found a sheet of {width:g} x {height:g} mm; allowed: at most the bed's "
                f"{machine.bed_width:g} x {machine.bed_height:g} mm (a sheet is not turned)"
            )
            findings.add(key_path("stock", k, "outline"), message)
        if 2 * sheet.margin >= min(sheet.width, sheet.height):
            message = f"found a margin of {sheet.margin:g} mm, which leaves nothing of the sheet"
            findings.add(key_path("stock", k, "margin"), message)


def check_kept(kept: Iterable[KeptSheet], stock: Mapping[int, str], findings: Findings) -> None:
    """Note stock that is called like a sheet on the rack."""
    names = {sheet.name for sheet in kept}
    for k, name in stock.items():
        if name in names:
            message = f"found {name!r}, which is what a sheet on the rack is called; choose another name"
            findings.add(key_path("stock", k, "name"), message)


def check_fit(
    blanks: Mapping[int, Blank], stock: Mapping[int, Stock], overhang: float | None, findings: Findings
) -> None:
    """Note blanks that are larger than every sheet, however they may be turned, and stock without sides.

    With an overhang bodies may be larger than a sheet; packing says which find no place.
    """
    for k, sheet in stock.items() if overhang is not None else ():
        if sheet.outline is not None:
            message = "found an outline that is no rectangle; with an overhang sheets must be rectangles"
            findings.add(key_path("stock", k, "outline"), message)
    for k, blank in blanks.items():
        if overhang is not None and blank.solid is not None:
            continue
        boxes = [blank.footprint.moved(turn=turn).bounds for turn in blank.turns]
        sizes = [(x1 - x0, y1 - y0) for x0, y0, x1, y1 in boxes]
        if stock and not any(_fits(size, sheet) for size in sizes for sheet in stock.values()):
            x0, y0, x1, y1 = blank.footprint.bounds
            message = (
                f"found a blank of {x1 - x0:g} x {y1 - y0:g} mm, which fits on no sheet at any of its turns; "
                f"allowed, margins taken off: {', '.join(_room(s) for s in stock.values())}"
            )
            findings.add(key_path("blanks", k, "footprint"), message)


def check_output(output: Mapping[str, Options], findings: Findings) -> None:
    """Note writers that are not installed, and options that they do not take."""
    known = _plugins.names("plan_writers") if output else []
    for name, options in output.items():
        if name in known:
            writer = _plugins.load("plan_writers", name)
            findings.extend(option_problems(writer, options, key_path("output", name), findings.file))
        else:
            message = f"found {name!r}, which is no format that can be written{nearest(name, known)}"
            findings.add(key_path("output", name), message)


def _fits(size: tuple[float, float], sheet: Stock) -> bool:
    room = 2 * sheet.margin - SLACK_MM
    return size[0] <= sheet.width - room and size[1] <= sheet.height - room


def _room(sheet: Stock) -> str:
    return f"{sheet.width - 2 * sheet.margin:g} x {sheet.height - 2 * sheet.margin:g} mm"
