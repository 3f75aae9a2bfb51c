"""One build at a time: a lock that the system itself lets go of when its holder dies."""

import errno
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl

_FAR = 1 << 20
"""Byte that Windows locks: beyond the process number, which must stay readable."""


def lock_path(out: Path) -> Path:
    """The lock file of builds into `out`; what a killed build leaves of it is taken over by the next."""
    return out.with_name(f".{out.name}.lock")


@contextmanager
def locked(out: Path) -> Iterator[None]:
    """Hold the lock of `out`.

    Raises BlockingIOError, with the process that holds it, where another build is at work, and OSError where the
    folder of `out` cannot be written.
    """
    path = lock_path(out)
    handle = _taken(path, out)
    try:
        os.ftruncate(handle, 0)
        os.lseek(handle, 0, os.SEEK_SET)
        os.write(handle, str(os.getpid()).encode())
        yield
    finally:
        with suppress(OSError):  # Windows does not remove what is open; an empty lock file does no harm
            path.unlink()
        os.close(handle)


def _taken(path: Path, out: Path) -> int:
    """An open, locked file that still stands under its name: its last holder may just have removed it."""
    while True:
        handle = os.open(path, os.O_RDWR | os.O_CREAT, 0o644)
        try:
            _lock(handle)
            if os.path.samestat(os.fstat(handle), path.stat()):
                return handle
        except FileNotFoundError:
            pass
        except OSError as error:
            os.lseek(handle, 0, os.SEEK_SET)
            holder = os.read(handle, 20).decode("ascii", "replace").strip()
            os.close(handle)
            if error.errno not in (errno.EAGAIN, errno.EACCES, errno.EDEADLK):
                raise
            raise BlockingIOError(errno.EAGAIN, "another build is at work"
                                  + (f" (process {holder})" if holder.isdigit() else "")
                                  + ": wait until it is done", str(out)) from None
        os.close(handle)


def _lock(handle: int) -> None:
    if sys.platform == "win32":
        os.lseek(handle, _FAR, os.SEEK_SET)
        msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
    else:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
