"""A progress bar on terminals, silence in pipes."""

import sys
from collections.abc import Iterator
from contextlib import contextmanager

from nesting.progress import Listener, Progress, silent


@contextmanager
def progress_bar() -> Iterator[Listener]:
    """Show progress on standard error while the block runs, if that is a terminal."""
    if not sys.stderr.isatty():
        yield silent
        return
    from rich.console import Console
    from rich.progress import BarColumn, TextColumn, TimeElapsedColumn
    from rich.progress import Progress as Bar

    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        TextColumn("{task.fields[best]}"),
        TimeElapsedColumn(),
    )
    with Bar(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("reading", total=1.0, best="")

        def show(progress: Progress) -> None:
            bar.update(task, completed=progress.share, description=progress.stage)
            if progress.best:
                bar.update(task, best=progress.best)

        yield show
