"""Which plan writers are used, each with its options."""

from collections.abc import Mapping, Sequence

from nesting import _plugins
from nesting.errors import InputError, Problem
from nesting.job.job import Job
from nesting.plug_in_options import Options, lacking, option_problems, with_options
from nesting.ports import PlanWriter


def chosen_writers(
    job: Job, formats: Sequence[str] | None, options: Mapping[str, Options] | None = None
) -> dict[str, PlanWriter]:
    """Load the plan writers asked for, by name, each with its options.

    Parameters
    ----------
    job
        Its `output` holds options.
    formats
        Names of writers; None for all that are installed with what they need.
    options
        Further options by the writer's name, which go before the job's.

    Raises
    ------
    InputError
        With every name that is unknown, listing what is installed; every writer asked for that lacks
        what it needs; and every option that is unknown or has a wrong value.
    """
    given = options or {}
    names = chosen_formats(formats)
    known = _plugins.names("plan_writers")
    problems = [
        Problem("", f"options.{name}", f"found {name!r}, which is no format that can be written")
        for name in given
        if name not in known
    ]
    writers: dict[str, PlanWriter] = {}
    for name in names:
        writer = _plugins.load("plan_writers", name)
        merged = {**job.output.get(name, {}), **given.get(name, {})}
        wrong = list(option_problems(writer, merged, f"output.{name}"))
        if formats is not None and lacking(writer):
            wrong.append(Problem("", "formats", f"{name} {lacking(writer)}"))
        if not wrong and not lacking(writer):
            writers[name] = with_options(writer, merged, f"output.{name}")
        problems += wrong
    if problems:
        raise InputError(problems)
    return writers


def chosen_formats(formats: Sequence[str] | None) -> list[str]:
    """Give the names of the plan writers asked for, each once; None asks for all that are installed.

    Raises
    ------
    InputError
        With every name that is unknown; it lists what is installed.
    """
    installed = _plugins.names("plan_writers")
    wanted = installed if formats is None else list(dict.fromkeys(formats))
    known = f"installed: {', '.join(installed) or 'none'}"
    if not wanted:
        raise InputError.single(f"no format was named; {known}", where="formats")
    unknown = [name for name in wanted if name not in installed]
    if unknown:
        raise InputError(Problem("", "formats", f"found {name!r}; {known}") for name in unknown)
    return wanted
