"""Entry-point lookup: lazy, and loud when a plug-in is missing, doubled or broken."""

from collections.abc import Callable, Iterable
from functools import lru_cache
from importlib.metadata import EntryPoint, entry_points
from typing import Any

from nesting.errors import PlugInError


def names(group: str) -> list[str]:
    """List what is installed in a group (``artwork_readers`` and so on), sorted."""
    return sorted(_found(group))


def load(group: str, name: str) -> Any:
    """Load and instantiate one plug-in.

    Raises
    ------
    PlugInError
        If no plug-in has that name, or importing it fails.
    """
    found = _found(group)
    if name not in found:
        raise PlugInError(
            f"no {group} named {name!r} is installed; installed: {', '.join(sorted(found)) or 'none'}"
        )
    try:
        return found[name].load()()
    except Exception as error:
        raise PlugInError(f"the plug-in {name!r} of {group} failed to load: {error}") from error


def load_for_suffix(group: str, suffix: str) -> Any | None:
    """Load the plug-in of a group that reads files with this suffix; None if there is none."""
    for name in names(group):
        plug_in = load(group, name)
        if suffix.lower() in plug_in.suffixes:
            return plug_in
    return None


def suffixes(group: str) -> list[str]:
    """List the file suffixes that a group reads."""
    return sorted({suffix for name in names(group) for suffix in load(group, name).suffixes})


@lru_cache(maxsize=64)
def _points(source: Callable[..., Iterable[EntryPoint]], group: str) -> tuple[EntryPoint, ...]:
    """Look what is installed, once: every packing asks, and looking takes some milliseconds."""
    return tuple(source(group=group))


def _found(group: str) -> dict[str, EntryPoint]:
    found: dict[str, EntryPoint] = {}
    for point in _points(entry_points, f"nesting.{group}"):
        known = found.setdefault(point.name, point)
        if known.value != point.value:
            raise PlugInError(
                f"two plug-ins of {group} are named {point.name!r}: {known.value} and {point.value}"
            )
    return found
