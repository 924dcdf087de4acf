"""Pages for browsers and paper: the report on a plan, and the run sheet to work from."""

from nesting_adapters.report.writer import HtmlReportWriter

__all__ = ["HtmlReportWriter"]
