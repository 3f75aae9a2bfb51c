"""One writer at a time: a lock that the system itself lets go of when its holder dies.

The name of a lock can be guessed, so what stands there is never trusted: a link is not followed, and nothing but an
empty file or one with a process number in it is taken for a lock.
"""

import errno
import os
import stat
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl

WAIT_S = 60.0
"""How long to wait for another writer of raw tables: one takes a second or two."""
_FAR = 1 << 20
"""Byte that Windows locks: beyond the process number, which must stay readable."""
_BUSY = (errno.EAGAIN, errno.EACCES, errno.EDEADLK)


def lock_path(out: Path) -> Path:
    """The lock file of those who write `out`; what a killed one leaves of it is taken over by the next."""
    return out.with_name(f".{out.name}.lock")


@contextmanager
def locked(out: Path, what: str = "build", wait_s: float = 0.0) -> Iterator[None]:
    """Hold the lock of `out`, having waited up to `wait_s` for whoever holds it.

    Raises BlockingIOError, with the process that holds it, where another `what` is still at work, FileExistsError where
    something else bears the lock's name, and OSError where the folder of `out` cannot be written.
    """
    path = lock_path(out)
    handle = _taken(path, out, what, time.monotonic() + wait_s)
    try:
        os.ftruncate(handle, 0)
        os.lseek(handle, 0, os.SEEK_SET)
        os.write(handle, str(os.getpid()).encode())
        yield
    finally:
        with suppress(OSError):  # Windows does not remove what is open; an empty lock file does no harm
            path.unlink()
        os.close(handle)


def _taken(path: Path, out: Path, what: str, until: float) -> int:
    """An open, locked file that still stands under its name: its last holder may just have removed it."""
    while True:
        handle = _opened(path)
        try:
            hold(handle)
            if os.path.samestat(os.fstat(handle), path.lstat()):
                return handle
        except FileNotFoundError:
            pass
        except OSError as error:
            os.lseek(handle, 0, os.SEEK_SET)
            holder = os.read(handle, 20).decode("ascii", "replace").strip()
            if error.errno not in _BUSY:
                os.close(handle)
                raise
            if time.monotonic() >= until:
                os.close(handle)
                raise BlockingIOError(errno.EAGAIN, f"another {what} is at work"
                                      + (f" (process {holder})" if holder.isdigit() else "")
                                      + ": wait until it is done", str(out)) from None
            time.sleep(0.02)
        os.close(handle)


def _opened(path: Path) -> int:
    """The lock file, opened or made; raises FileExistsError for what is none."""
    flags = os.O_RDWR | os.O_CREAT | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0)
    try:
        handle = os.open(path, flags, 0o644)
    except OSError as error:
        if error.errno in (errno.ELOOP, errno.EISDIR, errno.ENXIO) or path.is_symlink():
            raise _no_lock(path) from None
        raise
    found = os.fstat(handle)
    said = os.read(handle, 20) if stat.S_ISREG(found.st_mode) else b"-"
    if found.st_nlink > 1 or (said.strip() and not said.strip().isdigit()):
        os.close(handle)
        raise _no_lock(path)
    return handle


def _no_lock(path: Path) -> FileExistsError:
    return FileExistsError(errno.EEXIST, "bears the name of a lock and is none: move it away", str(path))


def hold(handle: int) -> None:
    """Lock an open file for this process as long as it is open; raises OSError where another one holds it."""
    if sys.platform == "win32":
        os.lseek(handle, _FAR, os.SEEK_SET)
        msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
    else:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)


def held(path: Path) -> bool:
    """Whether a living process holds the file, or that cannot be told."""
    try:
        handle = os.open(path, os.O_RDWR | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0))
    except OSError:
        return True
    try:
        hold(handle)
    except OSError:
        return True
    finally:
        os.close(handle)
    return False
