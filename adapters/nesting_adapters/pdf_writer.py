"""Writes what is printed as PDF: the run sheet, and a template of each sheet in true size."""

from typing import Annotated, ClassVar

from pydantic import Field, Strict

from nesting.plan_values import Plan
from nesting.plug_in_options import WithOptions
from nesting_adapters.pdf_page import PAPERS_MM, PaperName
from nesting_adapters.pdf_run_sheet import run_sheet
from nesting_adapters.pdf_template import template, tiling
from nesting_adapters.plan_lookup import Lookup


class PdfWriter(WithOptions):
    """``run-sheet.pdf`` and a ``sheet-A-template.pdf`` for each sheet."""

    summary: ClassVar[str] = "run-sheet.pdf and sheet-A-template.pdf: the run sheet, and pockets in true size"
    requires: ClassVar[dict[str, str]] = {"reportlab": "nesting-optimiser[pdf]"}

    paper: PaperName = Field("A4", description="paper of run sheet and templates: A4 or letter")
    margin: Annotated[float, Strict(), Field(ge=3, le=30)] = Field(
        8.0, description="edge in mm that the printer leaves free round a template"
    )
    overlap: Annotated[float, Strict(), Field(ge=5, le=50)] = Field(
        12.0, description="mm by which neighbouring pages of a template overlap"
    )

    def files(self, plan: Plan) -> dict[str, bytes]:
        """Make the files."""
        lookup, paper = Lookup(plan), PAPERS_MM[self.paper]
        files = {"run-sheet.pdf": run_sheet(lookup, paper)}
        for sheet in plan.sheets:
            stock = lookup.stock[sheet.stock]
            tiles = tiling(stock, paper, self.margin, self.overlap)
            files[f"sheet-{sheet.name}-template.pdf"] = template(plan.job.title, sheet, stock, tiles)
        return files
