"""Running a suite's instances, several at a time if asked, and reporting on them."""

import csv
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, fields
from functools import partial
from itertools import groupby
from pathlib import Path

from benchmarks.suite import Instance, Outcome, Settings, Suite
from nesting_adapters.plots import plot_fill

_COLUMNS = ("group", "instances", "value", "bound", "published", "proven", "sound", "fill", "seconds")


def run(suite: Suite, settings: Settings, jobs: int) -> list[Outcome]:
    """Solve every instance, printing one line each as they end."""
    instances = [found for found in suite.instances(settings) if settings.only in found.name]
    outcomes = []
    for outcome in _solved(suite, instances, settings, jobs):
        outcomes.append(outcome)
        mark = "proven" if outcome.proven else "open"
        print(
            f"{outcome.name}: {outcome.value:g}, bound {outcome.bound:g}, {mark}, "
            f"{outcome.seconds:.1f} s{'' if outcome.sound else ', NOT SOUND'}",
            flush=True,
        )
    return outcomes


def _solved(suite: Suite, instances: Sequence[Instance], settings: Settings, jobs: int) -> Iterator[Outcome]:
    solve = partial(_solve, suite, settings)
    if jobs == 1:
        yield from map(solve, instances)
        return
    with ProcessPoolExecutor(jobs) as pool:
        yield from pool.map(solve, instances)


def _solve(suite: Suite, settings: Settings, instance: Instance) -> Outcome:
    return suite.solve(instance, settings)


def table(outcomes: Sequence[Outcome]) -> str:
    """Lay out one line a group.

    Examples
    --------
    >>> one = Outcome("a", "class 1", 3, 3, 3, 0.9, True, 0.5, True)
    >>> print(table([one]))
    group    instances  value  bound  published  proven  sound  fill   seconds
    class 1  1          3      3      3          1       1      0.900  0.5
    """
    rows = [list(_COLUMNS)]
    for group, members in groupby(sorted(outcomes, key=lambda o: o.group), key=lambda o: o.group):
        part = list(members)
        known = [o.reference for o in part if o.reference is not None]
        rows.append([
            group, str(len(part)), f"{sum(o.value for o in part):g}", f"{sum(o.bound for o in part):g}",
            f"{sum(known):g}" if len(known) == len(part) else "-",
            str(sum(o.proven for o in part)), str(sum(o.sound for o in part)),
            f"{sum(o.fill for o in part) / len(part):.3f}", f"{sum(o.seconds for o in part):.1f}",
        ])  # fmt: skip
    widths = [max(len(row[i]) for row in rows) for i in range(len(_COLUMNS))]
    return "\n".join("  ".join(map(str.ljust, row, widths)).rstrip() for row in rows)


def write_csv(outcomes: Sequence[Outcome], path: Path) -> None:
    """Write one row an instance."""
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, [field.name for field in fields(Outcome)])
        writer.writeheader()
        writer.writerows(map(asdict, outcomes))


def write_plot(outcomes: Sequence[Outcome], title: str, path: Path) -> None:
    """Draw the fill rates of every group, one dot an instance."""
    groups = sorted({outcome.group for outcome in outcomes})
    classes = {group: [o.fill for o in outcomes if o.group == group] for group in groups}
    plot_fill(classes, title).savefig(path)
