"""Jobs to try and to start from: each a folder here, with everything that it names."""

import os
import shutil
from pathlib import Path

from nesting.errors import InputError, OutputError

_HERE = Path(__file__).parent


def names() -> list[str]:
    """List the packaged examples.

    >>> names()
    ['first', 'regatta']
    """
    return sorted(job.parent.name for job in _HERE.glob("*/job.toml"))


def write_example(name: str, folder: str | Path) -> None:
    """Copy an example into a new folder, its job as ``job.toml``.

    Parameters
    ----------
    name
        One of `names`.
    folder
        Made with the folders above it; one that is there must be empty.

    Raises
    ------
    nesting.errors.InputError
        If there is no such example.
    nesting.errors.OutputError
        If the folder holds something, or cannot be written. Nothing was written then.
    """
    if name not in names():
        raise InputError.single(f"no example is named {name!r}; allowed: {', '.join(names())}")
    target = Path(folder)
    try:
        if target.is_symlink() or (target.exists() and (not target.is_dir() or any(target.iterdir()))):
            raise OutputError(f"{target} is there already; allowed: a new or an empty folder")
        target.mkdir(parents=True, exist_ok=True)
        shutil.copytree(_HERE / name, target, dirs_exist_ok=True, copy_function=_copy)
    except OutputError:
        raise
    except OSError as error:
        raise OutputError(f"{target} cannot be written: {os.strerror(error.errno or 0)}") from error


def _copy(source: str, target: str) -> None:
    """Copy the content alone, so that the copy can be changed where the package cannot."""
    shutil.copyfile(source, target)
