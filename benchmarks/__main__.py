"""Command line: ``python -m benchmarks SUITE --data DIR --seconds N``."""

import argparse
import importlib
import pkgutil
from collections.abc import Callable, Iterator
from pathlib import Path

import benchmarks
from benchmarks import runs
from benchmarks.suite import Settings, Suite

Lines = Callable[[Path | None, float, int], Iterator[str]]
"""A suite that makes its own tables: data, seconds and seed to lines."""


def suites() -> dict[str, Suite | Lines]:
    """Find the suites: every module of this package that has a `SUITE`, or a `run` of its own."""
    found: dict[str, Suite | Lines] = {}
    for module_info in pkgutil.iter_modules(benchmarks.__path__):
        if module_info.name != "__main__":
            module = importlib.import_module(f"benchmarks.{module_info.name}")
            if hasattr(module, "SUITE"):
                found[module.SUITE.name] = module.SUITE
            elif hasattr(module, "run") and module_info.name != "runs":
                found[module_info.name.replace("_", "-")] = module.run
    return found


def main() -> None:
    """Run one suite, print a table beside the published figures, and write CSV and a plot if asked."""
    known = suites()
    parser = argparse.ArgumentParser(prog="python -m benchmarks", description=__doc__)
    parser.add_argument("suite", choices=sorted(known))
    parser.add_argument(
        "--data", type=Path, help="folder of the public data; without it, instances are generated"
    )
    parser.add_argument("--seconds", type=float, default=10.0, help="time for one instance (10)")
    parser.add_argument("--jobs", type=int, default=1, help="instances at a time (1)")
    parser.add_argument("--processes", type=int, default=1, help="processes for one irregular instance (1)")
    parser.add_argument("--seed", type=int, default=1, help="start of the random numbers (1)")
    parser.add_argument(
        "--turns", action="store_true", help="allow quarter turns where the suite has the choice"
    )
    parser.add_argument("--only", default="", help="run instances whose name contains this")
    parser.add_argument("--out", type=Path, help="folder for the CSV file, the plot and pictures")
    parser.add_argument("--plot", choices=("png", "svg"), default="png", help="format of the plot (png)")
    given = parser.parse_args()
    if given.data is not None and not given.data.is_dir():
        parser.error(f"--data: {given.data} is no folder")
    if given.jobs < 1 or given.processes < 1:
        parser.error("--jobs and --processes are whole numbers from 1")
    suite = known[given.suite]
    if not isinstance(suite, Suite):
        for line in suite(given.data, given.seconds, given.seed):
            print(line, flush=True)
        return
    settings = Settings(
        given.data, given.seconds, given.seed, given.turns, given.only, given.out, given.processes
    )
    outcomes = runs.run(suite, settings, given.jobs)
    if not outcomes:
        parser.error(f"--only: no instance has {given.only!r} in its name")
    print(runs.table(outcomes))
    if given.out is not None:
        given.out.mkdir(parents=True, exist_ok=True)
        runs.write_csv(outcomes, given.out / f"{suite.name}.csv")
        runs.write_plot(outcomes, suite.summary, given.out / f"{suite.name}.{given.plot}")
    print(suite.conclusion(outcomes))


if __name__ == "__main__":
    main()
