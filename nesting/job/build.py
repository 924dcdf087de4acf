"""The parts of a job, each made from its table of the document."""

from nesting.body.lens import Lens
from nesting.job.bodies import Bodies
from nesting.job.document import (
    BlankDocument,
    CostsDocument,
    JobDocument,
    LensDocument,
    MachineDocument,
    MarkSettingDocument,
    RefocusDocument,
    SheetMarksDocument,
    StockDocument,
)
from nesting.job.draft import Draft
from nesting.job.findings import key_path, nearest
from nesting.job.job import UNSTATED_DEPTH_MM, Blank, Costs, Machine, MarkSetting, Refocus, SheetMarks, Stock
from nesting.job.kinematics import JUNCTION_DEVIATION_MM
from nesting.job.shapes import Shapes


class Builder:
    """Makes the parts of a job that are sound; lists keep their places in the document."""

    def __init__(self, draft: Draft, shapes: Shapes) -> None:
        self._draft = draft
        self._shapes = shapes
        self._mm = shapes.mm
        stock = draft.items("stock", StockDocument).values()
        machine = self.machine()
        self._bodies = Bodies(
            shapes,
            sorted({self._mm(sheet.thickness) for sheet in stock}),
            machine.depth_of_focus if machine else UNSTATED_DEPTH_MM,
        )

    def web(self) -> float:
        """Make the least material between two pockets, in mm."""
        return self._mm(self._draft.raw.get("web", JobDocument.model_fields["web"].default))

    def overhang(self) -> float | None:
        """Make how far silhouettes may reach beyond a sheet's edge, in mm."""
        written = self._draft.raw.get("overhang")
        return None if written is None else self._mm(written)

    def sheet_marks(self) -> SheetMarks | None:
        """Make what is marked on sheets, if anything is."""
        written = self._draft.table("sheet_marks", SheetMarksDocument)
        if written is None:
            return None
        files = self._shapes.folder
        known = list(self._draft.names("settings").values())
        if written.setting not in known:
            message = f"unknown mark setting {written.setting!r}{nearest(written.setting, known)}"
            files.findings.add("sheet_marks.setting", message)
        font = files.font(written.font, "sheet_marks.font", "0123456789")
        if font is None:
            return None
        if font.filled or font.missing("0123456789"):
            message = f"found the font {written.font!r}; needed: one of single lines that has all digits"
            files.findings.add("sheet_marks.font", message)
        return SheetMarks(font, self._mm(written.size), written.setting)

    def costs(self) -> Costs | None:
        """Take over the costs of work."""
        written = self._draft.table("costs", CostsDocument) if "costs" in self._draft.raw else None
        return None if written is None else Costs(**dict(written))

    def machine(self) -> Machine | None:
        """Make the machine."""
        written = self._draft.table("machine", MachineDocument)
        if written is None:
            return None
        if None not in (written.junction_deviation, written.velocity_jump):
            message = "found it beside junction_deviation; allowed: one of the two"
            self._shapes.folder.findings.add("machine.velocity_jump", message)
        speeds, rates = written.axis_speeds, written.axis_accelerations
        deviation = written.junction_deviation
        return Machine(
            self._mm(written.bed.width),
            self._mm(written.bed.height),
            written.origin,
            written.travel_speed,
            written.cut_speed,
            written.acceleration,
            {material: self._mm(kerf) for material, kerf in written.kerf.items()},
            self._lens(written.lens),
            beam_on_delay=written.beam_on_delay,
            beam_off_delay=written.beam_off_delay,
            pierce_time=written.pierce_time,
            lead_in=self._mm(written.lead_in),
            heat_distance=self._mm(written.heat_distance),
            heat_time=written.heat_time,
            thin_web=self._mm(written.thin_web),
            refocus=self._refocus(written.refocus),
            axis_speeds=None if speeds is None else (speeds.x, speeds.y),
            axis_accelerations=None if rates is None else (rates.x, rates.y),
            junction_deviation=JUNCTION_DEVIATION_MM if deviation is None else self._mm(deviation),
            velocity_jump=written.velocity_jump,
        )

    def settings(self) -> tuple[MarkSetting, ...]:
        """Make the mark settings."""
        written = self._draft.items("settings", MarkSettingDocument).values()
        return tuple(MarkSetting(s.name, s.speed, self._mm(s.interval), s.power, s.passes) for s in written)

    def stock(self) -> dict[int, Stock]:
        """Make the sheets at hand."""
        written = self._draft.items("stock", StockDocument)
        made = {k: self._sheets(sheet, key_path("stock", k)) for k, sheet in written.items()}
        return {k: sheets for k, sheets in made.items() if sheets}

    def blanks(self) -> dict[int, Blank]:
        """Make the kinds of blank."""
        written = self._draft.items("blanks", BlankDocument)
        made = {k: self._blank(blank, key_path("blanks", k)) for k, blank in written.items()}
        return {k: blank for k, blank in made.items() if blank}

    def materials(self) -> dict[str, str]:
        """List the materials of stock and blanks, and those acknowledged, by their key paths."""
        stock = self._draft.items("stock", StockDocument)
        blanks = self._draft.items("blanks", BlankDocument)
        found = {key_path("stock", k, "material"): sheet.material for k, sheet in stock.items()}
        found |= {key_path("blanks", k, "material"): b.material for k, b in blanks.items() if b.material}
        return found

    def _refocus(self, written: RefocusDocument | None) -> Refocus | None:
        return None if written is None else Refocus(written.seconds, self._mm(written.range))

    def _lens(self, written: LensDocument | None) -> Lens | None:
        if written is None:
            return None
        return Lens(
            self._mm(written.focal_length),
            self._mm(written.beam_diameter),
            self._mm(written.wavelength),
            written.beam_quality,
            written.depth_rule,
        )

    def _sheets(self, written: StockDocument, where: str) -> Stock | None:
        outline = self._shapes.region(written.outline, f"{where}.outline")
        areas = [
            self._shapes.region(area, f"{where}.keep_outs[{k}]") for k, area in enumerate(written.keep_outs)
        ]
        if outline is None:
            return None
        x0, y0, x1, y1 = outline.bounds
        return Stock(
            written.name,
            x1 - x0,
            y1 - y0,
            self._mm(written.thickness),
            written.material,
            written.quantity,
            self._mm(written.margin),
            tuple(area.moved(-x0, -y0) for area in areas if area),
            None if outline.is_rectangle else outline.moved(-x0, -y0),
            written.cost,
            written.cut_out,
        )

    def _blank(self, written: BlankDocument, where: str) -> Blank | None:
        laid = self._bodies.laid(written, where)
        if laid is None:
            outline = (
                self._shapes.region(written.footprint, f"{where}.footprint") if written.footprint else None
            )
        else:
            outline = laid.outline
        footprint = self._shapes.with_holes(outline, written.holes, f"{where}.holes")
        area = self._shapes.mark_area(written.mark_area, footprint, f"{where}.mark_area")
        if footprint is None or area is None:
            return None
        height, relief = laid.height_over(area) if laid else (self._mm(written.height or 0.0), 0.0)
        return Blank(
            written.name,
            footprint,
            height,
            self._mm(written.gap),
            self._mm(written.clearance),
            tuple(written.turns),
            area,
            written.setting,
            written.material,
            relief,
            laid.solid if laid else None,
            self._mm(written.notch),
            self._mm(written.corner_relief),
            finish=written.finish,
            notch_reserved=written.notch_reserved,
            most_incidence=written.most_incidence,
        )
