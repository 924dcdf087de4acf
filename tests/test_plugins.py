"""Finding plug-ins by entry point."""

import tomllib
from importlib.metadata import EntryPoint
from pathlib import Path

import pytest

from nesting import _plugins
from nesting.errors import PlugInError


def _installed(monkeypatch: pytest.MonkeyPatch, *points: EntryPoint) -> None:
    monkeypatch.setattr(_plugins, "entry_points", lambda **_: points)


def test_everything_shipped_loads() -> None:
    """Every entry point of this distribution can be loaded."""
    project = tomllib.loads((Path(__file__).parents[1] / "pyproject.toml").read_text(encoding="utf-8"))
    groups = project["project"]["entry-points"]
    assert "nesting.font_readers" in groups
    for group, plug_ins in groups.items():
        short = group.removeprefix("nesting.")
        assert set(plug_ins) <= set(_plugins.names(short))
        assert all(_plugins.load(short, name) for name in plug_ins)


def test_a_missing_plug_in_is_named_with_what_is_there() -> None:
    """Asking for a plug-in that is not installed lists those that are."""
    with pytest.raises(PlugInError, match=r"'slate'.*svg"):
        _plugins.load("plan_writers", "slate")


def test_two_plug_ins_of_one_name_are_an_error(monkeypatch: pytest.MonkeyPatch) -> None:
    """A plug-in cannot quietly take the place of another one."""
    group = "nesting.plan_writers"
    _installed(monkeypatch, EntryPoint("svg", "a:A", group), EntryPoint("svg", "b:B", group))
    with pytest.raises(PlugInError, match=r"a:A and b:B"):
        _plugins.names("plan_writers")


def test_a_broken_plug_in_is_loud(monkeypatch: pytest.MonkeyPatch) -> None:
    """A plug-in that fails to import is reported as broken, not as unknown."""
    _installed(monkeypatch, EntryPoint("svg", "no_such_module_here:Writer", "nesting.plan_writers"))
    with pytest.raises(PlugInError, match=r"failed to load.*no_such_module_here"):
        _plugins.load("plan_writers", "svg")
