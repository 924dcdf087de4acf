"""Holds on files and folders, and names that outlast a power cut, where the system knows them."""

import os
from pathlib import Path


def held(handle: int, *, wait: bool) -> bool | None:
    """Hold what was opened as long as it is open; whether nobody else does, None where that is not known."""
    if os.name != "posix":
        return None
    import fcntl

    try:
        fcntl.flock(handle, fcntl.LOCK_EX | (0 if wait else fcntl.LOCK_NB))
    except OSError:
        return False
    return True


def sync_names(folder: Path) -> None:
    """Have the names in a folder written to disk, where the system lets a folder be opened."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
