"""Two folders that change names in one step, where the system can do that."""

import ctypes
import errno
import os
import sys
from functools import cache
from pathlib import Path
from typing import Any

_HERE = -100
"""AT_FDCWD on Linux: paths are seen from the working directory."""

_EXCHANGE = 2
"""RENAME_EXCHANGE of renameat2(2) on Linux, RENAME_SWAP of renamex_np(2) on macOS."""

_CANNOT = {errno.ENOSYS, errno.EINVAL, errno.ENOTSUP, errno.EPERM}


def exchange(first: Path, second: Path) -> bool:
    """Let two paths change names, so that at no moment either name is missing.

    Returns
    -------
    False where the system or the file system cannot do that; nothing has changed then.

    Raises
    ------
    OSError
        If it can, but not with these paths.
    """
    call = _call()
    if call is None:
        return False
    if call(os.fsencode(first), os.fsencode(second)) == 0:
        return True
    number = ctypes.get_errno()
    if number in _CANNOT:
        return False
    raise OSError(number, os.strerror(number), str(second))


@cache
def _call() -> Any:
    """Look up the system's own function; None where there is none."""
    name = {"linux": "renameat2", "darwin": "renamex_np"}.get(sys.platform)
    function = getattr(ctypes.CDLL(None, use_errno=True), name, None) if name else None
    if function is None:
        return None
    if name == "renamex_np":
        function.argtypes = (ctypes.c_char_p, ctypes.c_char_p, ctypes.c_uint)
        return lambda a, b: function(a, b, _EXCHANGE)
    function.argtypes = (ctypes.c_int, ctypes.c_char_p, ctypes.c_int, ctypes.c_char_p, ctypes.c_uint)
    return lambda a, b: function(_HERE, a, _HERE, b, _EXCHANGE)
