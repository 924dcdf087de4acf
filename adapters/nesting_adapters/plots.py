"""Figures by matplotlib (the extra ``plots``): a layout, how a search went, fill rates by class.

Each function gives a `matplotlib.figure.Figure`, which a notebook shows and ``savefig`` writes.
"""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from nesting.geometry.region import Region
from nesting.packing.result import Layout

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

INK, WOOD, DEEP = "#1d2b30", "#f6f0e4", "#0f5860"


def plot_layout(layout: Layout) -> "Figure":
    """Draw every sheet of a layout to scale, in mm.

    >>> import nesting
    >>> packed = nesting.pack([nesting.Item("disc", nesting.Footprint.circle(30))], [nesting.Sheet(50, 40)])
    >>> len(plot_layout(packed).axes)
    1
    """
    from matplotlib.figure import Figure

    count = max(1, len(layout.sheets))
    figure = Figure(figsize=(6, 4.5 * count), layout="constrained")
    for k, sheet in enumerate(layout.sheets):
        axes = figure.add_subplot(count, 1, k + 1)
        _add(axes, sheet.region, WOOD)
        for placement, region in zip(layout.placements, layout.regions, strict=True):
            if placement.sheet == k:
                _add(axes, region, "white")
        axes.set(title=f"sheet {k + 1} of {count}", xlabel="mm", ylabel="mm", aspect="equal")
        axes.autoscale_view()
    return figure


def plot_convergence(history: Sequence[tuple[float, float]], bound: float | None = None) -> "Figure":
    """Draw the best value over the time, from pairs of seconds and value, beside a bound.

    >>> plot_convergence([(0.1, 5), (2.0, 4)], bound=3).axes[0].get_xlabel()
    'seconds'
    """
    from matplotlib.figure import Figure

    figure = Figure(figsize=(6, 3.5), layout="constrained")
    axes = figure.add_subplot()
    seconds, values = zip(*history, strict=True) if history else ((), ())
    axes.step(seconds, values, where="post", color=DEEP, marker="o", label="best found")
    if bound is not None:
        axes.axhline(bound, color=INK, linestyle="--", label="bound")
    axes.set(xlabel="seconds", ylabel="best value")
    axes.legend()
    return figure


def plot_fill(classes: Mapping[str, Sequence[float]], title: str = "") -> "Figure":
    """Draw fill rates, 0 to 1, by class: a box a class and a dot a value.

    >>> [tick.get_text() for tick in plot_fill({"a": [0.5, 0.7], "b": [0.9]}).axes[0].get_xticklabels()]
    ['a', 'b']
    """
    from matplotlib.figure import Figure

    figure = Figure(figsize=(8, 4.5), layout="constrained")
    axes = figure.add_subplot()
    shares = [[100 * value for value in values] for values in classes.values()]
    axes.boxplot(shares, tick_labels=list(classes))
    for n, values in enumerate(shares, 1):
        axes.plot([n] * len(values), values, "o", markersize=3, alpha=0.5, color=DEEP)
    axes.set(title=title, ylabel="fill in %")
    axes.tick_params(axis="x", rotation=45)
    return figure


def _add(axes: "Axes", region: Region, colour: str) -> None:
    from matplotlib.patches import PathPatch
    from matplotlib.path import Path

    rings = [np.asarray(contour.flattened(0.05)) for contour in region.contours]
    path = Path.make_compound_path(*(Path(np.vstack([ring, ring[:1]]), closed=True) for ring in rings))
    axes.add_patch(PathPatch(path, facecolor=colour, edgecolor=INK, linewidth=0.8))
