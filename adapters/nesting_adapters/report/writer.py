"""Renders the pages from their templates."""

from functools import cache
from typing import TYPE_CHECKING

from nesting.plan_values import Plan
from nesting_adapters.plan_lookup import Lookup
from nesting_adapters.report import cautions, words
from nesting_adapters.report.drawings import Drawings
from nesting_adapters.report.overview import Overview

if TYPE_CHECKING:
    from jinja2 import Environment

PAGES = {"report.html": "report.html.j2", "run-sheet.html": "run_sheet.html.j2"}


class HtmlReportWriter:
    """``report.html`` to read and ``run-sheet.html`` to print; each is one file that needs no network."""

    summary = "report.html and run-sheet.html: the plan to read, the run sheet to print and tick off"

    def files(self, plan: Plan) -> dict[str, bytes]:
        """Make both pages."""
        lookup = Lookup(plan)
        view = {
            "plan": plan,
            "job": plan.job,
            "lookup": lookup,
            "drawings": Drawings(lookup),
            "overview": Overview(lookup),
            "cautions": cautions,
        }
        return {name: _templates().get_template(page).render(view).encode() for name, page in PAGES.items()}


@cache
def _templates() -> "Environment":
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("nesting_adapters.report"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    environment.filters |= words.FILTERS
    return environment
