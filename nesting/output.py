"""Writing a plan's files: all of them or none, and never over somebody else's."""

import gc
import os
import shutil
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager, suppress
from glob import escape
from pathlib import Path, PurePosixPath
from uuid import uuid4

from nesting._exchange import exchange
from nesting.disk import held, sync_names
from nesting.errors import OutputError, PlugInError
from nesting.plan_values import Plan
from nesting.plug_in_options import Options
from nesting.ports import PlanWriter
from nesting.writers import chosen_writers

LIST_NAME = "written-files.txt"
"""The list of what was written into a folder, by which a later run knows the files as its own."""

OLD = ".old"
"""End of the name that a folder has while another takes its place in two steps."""

WAITING_FOR_DISK = 8
"""How many files are written at a time."""

LIST_HEADING = "Files written by nesting-optimiser. Writing to this folder again replaces them."


def write_plan(
    plan: Plan,
    folder: str | Path,
    formats: Sequence[str] | None = None,
    options: Mapping[str, Options] | None = None,
) -> list[str]:
    """Write a plan's files into a folder, which then holds these files and no others.

    The files are written beside the folder first, and then the two folders change names in one step: a
    run that is broken off at any moment leaves the folder as it was or as it is to be. Where the system
    cannot exchange names, a broken-off exchange is undone by `recover`, which the next run calls.

    Parameters
    ----------
    folder
        Made if it is not there; replaced if all it holds was written by an earlier run.
    formats
        Names of plan writers; None for all that are installed with what they need.
    options
        Options of plan writers, by the writer's name; they go before those in the job's `output`.

    Returns
    -------
    Paths relative to the folder, sorted.

    Raises
    ------
    InputError
        If a format is unknown or lacks what it needs, or an option is unknown or has a wrong value.
    OutputError
        If the folder is a link, holds files of another origin, or cannot be written. Nothing in it
        was touched then.
    PlugInError
        If a writer fails to load or names a file outside the folder, or two writers the same file.
    """
    target = _absolute(folder)
    writers = chosen_writers(plan.job, formats, options)
    recover(target)
    check_output(target)
    with _new_folder_beside(target) as new:
        with _cycles_left(), _filled(new) as put:
            names = _made(plan, writers, put)
        check_output(target)
        _swap(new, target)
    return sorted(names)


def check_output(folder: str | Path) -> None:
    """Make sure that a folder may be written: not there yet, empty, or holding only an earlier run's files.

    Raises
    ------
    OutputError
        If it may not; the message names what stands in the way.
    """
    path = _absolute(folder)
    if path.is_symlink() or (path.exists() and not path.is_dir()):
        raise OutputError(
            f"{path} is a {'link' if path.is_symlink() else 'file'}; an output folder is needed"
        )
    foreign = sorted(_foreign(path)) if path.exists() else []
    if foreign:
        more = f" and {len(foreign) - 3} more" if len(foreign) > 3 else ""
        raise OutputError(
            f"{path} holds what an earlier run did not write: {', '.join(foreign[:3])}{more}; "
            "choose another folder, or move these away"
        )


def keep_apart(folder: str | Path, plan: str | Path) -> None:
    """Make sure that what is to be written does not take the place of the plan that it is made from.

    Raises
    ------
    OutputError
        If the plan's file lies in the folder.
    """
    if Path(folder).resolve() in Path(plan).resolve().parents:
        raise OutputError(f"{folder} holds the plan {plan}, which is to stay; choose another folder")


def _absolute(folder: str | Path) -> Path:
    path = Path(folder).absolute()
    # a folder without a name of its own cannot be renamed
    return path.resolve() if ".." in path.parts else path


def _made(plan: Plan, writers: Mapping[str, PlanWriter], put: Callable[[str, bytes], None]) -> set[str]:
    """Make every file and put it down, the list of them last; give their names."""
    names: set[str] = {LIST_NAME}
    for name, writer in writers.items():
        for path, content in writer.files(plan).items():
            _refuse_stray(name, path)
            if path in names:
                raise PlugInError(f"the writer {name!r} writes {path}, which is written already")
            names.add(path)
            put(path, content)
    put(LIST_NAME, "\n".join([LIST_HEADING, *sorted(names), ""]).encode())
    return names


def _refuse_stray(writer: str, path: str) -> None:
    parts = PurePosixPath(path).parts
    if not parts or "/" in parts or ".." in parts or set(path) & set("\\:\n\0"):
        raise PlugInError(f"the writer {writer!r} names a file outside the folder: {path!r}")


def _foreign(folder: Path) -> Iterator[str]:
    """Yield what lies in a folder and is not on its list."""
    listed = folder / LIST_NAME
    own: set[str] = set()
    if listed.is_file() and not listed.is_symlink():
        heading, *names = listed.read_text(encoding="utf-8", errors="replace").splitlines() or [""]
        own = set(names) if heading == LIST_HEADING else set()
    parents = {str(parent) for name in own for parent in PurePosixPath(name).parents}
    for path in folder.rglob("*"):
        name = path.relative_to(folder).as_posix()
        real_folder = path.is_dir() and not path.is_symlink()
        if path.is_symlink() or name not in (parents if real_folder else own):
            yield name


def recover(folder: str | Path) -> None:
    """Bring back a folder whose replacement was broken off, and clear away what broken-off runs left.

    What another run is working on, or a folder that is there, is not touched.
    """
    target = _absolute(folder)
    if not target.parent.is_dir():
        return
    for left in sorted(target.parent.glob(f".{escape(target.name)}.{'[0-9a-f]' * 12}{OLD}")):
        # only where names cannot be exchanged is the old folder ever moved aside
        with suppress(OSError), _held(left) as ours:
            if ours and not target.exists():
                left.rename(target)
    if os.name != "posix":
        return
    for left in sorted(target.parent.glob(f".{escape(target.name)}.{'[0-9a-f]' * 12}*")):
        with suppress(OSError), _held(left) as ours:
            if ours:
                shutil.rmtree(left, ignore_errors=True)


@contextmanager
def _held(folder: Path) -> Iterator[bool]:
    """Hold a folder as long as it is worked on; tells whether nobody else does.

    The hold ends with the process, however that ends. Where folders cannot be held, nobody holds one.
    """
    if os.name != "posix":
        yield True
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        yield bool(held(handle, wait=False))
    finally:
        os.close(handle)


@contextmanager
def _new_folder_beside(target: Path) -> Iterator[Path]:
    """Make a folder that is gone again afterwards, with whatever it then holds, unless it was renamed."""
    new = target.with_name(f".{target.name}.{uuid4().hex[:12]}")
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        new.mkdir()
        with _held(new):
            yield new
    except OutputError:
        raise
    except OSError as error:
        raise OutputError(f"{target} cannot be written: {error}") from error
    finally:
        shutil.rmtree(new, ignore_errors=True)


@contextmanager
def _cycles_left() -> Iterator[None]:
    """Look for no cycles of references meanwhile: a plan's many small values are none, and take time."""
    before = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if before:
            gc.enable()


@contextmanager
def _filled(folder: Path) -> Iterator[Callable[[str, bytes], None]]:
    """Give a function that puts files into a folder; afterwards all of them are on the disk.

    They are written while the next ones are made, for a disk answers late.
    """
    pool = ThreadPoolExecutor(WAITING_FOR_DISK, "disk")
    written: list[Future[None]] = []
    try:
        yield lambda name, content: written.append(pool.submit(_write, folder / name, content))
        for future in written:
            future.result()
    finally:
        pool.shutdown(cancel_futures=True)
    for path in [*filter(Path.is_dir, folder.rglob("*")), folder]:
        sync_names(path)


def _write(path: Path, content: bytes) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("xb", buffering=0) as file:
        # one call may write less than it was given
        left = memoryview(content)
        while left:
            left = left[file.write(left) :]
        os.fsync(file.fileno())


def _swap(new: Path, target: Path) -> None:
    """Put the new folder in the target's place; the old one then has the new one's name."""
    if not target.exists():
        new.rename(target)
    elif not exchange(new, target):
        _swap_in_two(new, target)
    sync_names(target.parent)


def _swap_in_two(new: Path, target: Path) -> None:
    """Rename the old folder out of the way and the new one into place; see `recover`."""
    old = new.with_name(new.name + OLD)
    with _held(target):
        target.rename(old)
        try:
            new.rename(target)
        except BaseException:
            old.rename(target)
            raise
        shutil.rmtree(old, ignore_errors=True)
