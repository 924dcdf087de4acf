"""The public surface and what importing it costs."""

import subprocess
import sys

import pytest

import nesting

PUBLIC = [
    "Footprint",
    "InputError",
    "Item",
    "Job",
    "Layout",
    "NestingError",
    "OutputError",
    "Placement",
    "Plan",
    "Progress",
    "Sheet",
    "add_to_rack",
    "check_layout",
    "check_plan",
    "extend",
    "load_job",
    "load_plan",
    "make_plan",
    "order_path",
    "pack",
    "read_rack",
    "remake",
    "retire_from_rack",
    "write_plan",
]
HEAVY = ["ortools", "numba", "pandas", "matplotlib", "jinja2", "rich", "nesting_adapters"]


def test_public_names_are_pinned() -> None:
    """A name joins or leaves the public surface only on purpose."""
    assert sorted(nesting.__all__) == nesting.__all__ == PUBLIC
    assert all(hasattr(nesting, name) for name in PUBLIC)


@pytest.mark.parametrize("module", ["nesting", "nesting.cli"])
def test_import_stays_light(module: str) -> None:
    """Importing the package or the command line loads no solver, table, plot or report library."""
    code = f"import sys, {module}; print([m for m in {HEAVY!r} if m in sys.modules])"
    result = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert result.stdout.strip() == "[]"
