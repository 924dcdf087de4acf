"""Renders the pages from their templates."""

from base64 import b64encode
from functools import cache
from hashlib import sha256
from typing import TYPE_CHECKING, Any

from nesting.plan_values import Load, Plan
from nesting_adapters.memory import Memory
from nesting_adapters.plan_lookup import Lookup
from nesting_adapters.report import cautions, words
from nesting_adapters.report.cross_section import CrossSections
from nesting_adapters.report.drawings import Drawings
from nesting_adapters.report.overview import Overview

if TYPE_CHECKING:
    from jinja2 import Environment

PAGES = {"report.html": "report.html.j2", "run-sheet.html": "run_sheet.html.j2"}

SCRIPTS = {
    "report.html": ("ticks", "map", "search", "play", "start"),
    "run-sheet.html": ("ticks", "map", "start"),
}


class HtmlReportWriter:
    """``report.html`` to read and ``run-sheet.html`` to print; each is one file that needs no network."""

    summary = "report.html and run-sheet.html: the plan to read, the run sheet to print and tick off"

    def files(self, plan: Plan) -> dict[str, bytes]:
        """Make both pages."""
        lookup = Lookup(plan)
        drawings = Drawings(lookup)
        view = {
            "plan": plan,
            "job": plan.job,
            "key": plan_key(plan),
            "lookup": lookup,
            "drawings": drawings,
            "units": _UnitTables(lookup, drawings),
            "overview": Overview(lookup),
            "bodies": CrossSections(lookup),
            "cautions": cautions,
        }
        return {name: _rendered(name, view) for name in PAGES}


class _UnitTables:
    """The tables of units, each made once, for both pages show them."""

    def __init__(self, lookup: Lookup, drawings: Drawings) -> None:
        self._lookup, self._drawings, self._memory = lookup, drawings, Memory[str]()

    def table(self, load: Load) -> str:
        """Make the table of a load's units."""
        macro: Any = _templates().get_template("units.html.j2").module
        return self._memory.once(load.number, lambda: macro.table(load, self._lookup, self._drawings))


def plan_key(plan: Plan) -> str:
    """Name a plan by what lies where: what a device remembers of one plan is never shown on another."""
    places = [
        (sheet.name, pocket.number, pocket.blank, f"{pocket.x:.3f} {pocket.y:.3f} {pocket.turn:.3f}")
        for sheet in plan.all_sheets
        for pocket in sheet.pockets
    ]
    loads = [(load.number, load.sheet, load.fillings) for load in plan.loads]
    content = repr((plan.job.title, plan.job.orders, plan.seed, plan.made_by, places, loads))
    return sha256(content.encode()).hexdigest()[:16]


def _rendered(page: str, view: dict[str, Any]) -> bytes:
    from markupsafe import Markup

    script = "".join(_templates().get_template(f"script/{name}.js").render() for name in SCRIPTS[page])
    # the policy of the page lets this script run and no other (W3C CSP level 3, hash sources)
    digest = b64encode(sha256(script.encode()).digest()).decode()
    extra = {"script": Markup(script), "script_hash": f"sha256-{digest}"}
    return _templates().get_template(PAGES[page]).render(view | extra).encode()


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
