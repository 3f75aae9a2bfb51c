"""Files written whole or not at all, and never anything but a regular file written over.

The bytes go to a new file beside the old one, under a name nobody can guess and which no link can stand in for; then it
takes the old one's place with the old one's mode. What a killed run has left is cleared away by the next one that
writes there: a file that is being written is locked, one that was left is not.
"""

import errno
import os
import secrets
import stat
from collections.abc import Iterator, Mapping
from contextlib import suppress
from pathlib import Path

from pipeline.writing.lock import held, hold

_NEW = "{start}{token}.new"
_PLAIN = 0o666
"""Mode of a new file, less what the user's mask takes away."""


def write_whole(path: Path, data: bytes, *, force: bool = False) -> None:
    """Write one file whole or not at all; raises as `write_all`."""
    write_all({path: data}, force=force)


def write_all(files: Mapping[Path, bytes], *, force: bool = False) -> None:
    """Write several files whole: nothing takes its place before the bytes of all of them are on the disk.

    Raises FileExistsError where one is there and `force` is not set, or what is there is no plain file (a device, a
    pipe, a link, a folder), PermissionError where it is write-protected, and OSError as the disk does.
    """
    for path in files:
        refuse(path, force=force)
    fresh: dict[Path, tuple[Path, int]] = {}
    try:
        for path, data in files.items():
            fresh[path] = _staged(path, data)
        for path, (new, _) in fresh.items():
            put(new, path, force=force)
    finally:
        for new, handle in fresh.values():
            with suppress(OSError):
                new.unlink(missing_ok=True)
            os.close(handle)


def refuse(path: Path, *, force: bool) -> None:
    """Raise OSError where `path` must not be written to: see `write_all`."""
    found = _stat(path)
    if found is None:
        return
    if not stat.S_ISREG(found.st_mode):
        raise FileExistsError(errno.EEXIST, f"is {_kind(found.st_mode)}, not a file: name a file", str(path))
    if not force:
        raise FileExistsError(errno.EEXIST, "is there already: give --force to write over it", str(path))
    if not os.access(path, os.W_OK):
        raise PermissionError(errno.EACCES, "is write-protected: name another file", str(path))


def put(new: Path, path: Path, *, force: bool) -> None:
    """Give the finished file `new` the name `path`, and the mode and owner of the file that has it now."""
    refuse(path, force=force)
    found = _stat(path)
    if found is None and hasattr(os, "link"):
        with suppress(PermissionError, NotImplementedError):  # a disk without hard links
            try:
                os.link(new, path)
            except FileExistsError:
                raise FileExistsError(errno.EEXIST, "is there already: give --force to write over it",
                                      str(path)) from None
            except OSError as error:
                if error.errno not in (errno.EOPNOTSUPP, errno.EMLINK, errno.ENOSYS):
                    raise
            else:
                new.unlink()
                return
    if found is not None:
        with suppress(OSError):  # another's file in one's own folder
            os.chown(new, found.st_uid, found.st_gid)
        os.chmod(new, stat.S_IMODE(found.st_mode))
    new.replace(path)


def _stat(path: Path) -> os.stat_result | None:
    """What stands under the name itself, links not followed; None for nothing."""
    try:
        return path.lstat()
    except FileNotFoundError:
        return None


def _kind(mode: int) -> str:
    kinds = ((stat.S_ISLNK, "a link"), (stat.S_ISDIR, "a folder"), (stat.S_ISFIFO, "a pipe"),
             (stat.S_ISSOCK, "a socket"), (stat.S_ISCHR, "a device"), (stat.S_ISBLK, "a device"))
    return next((name for test, name in kinds if test(mode)), "something else")


def _staged(path: Path, data: bytes) -> tuple[Path, int]:
    """A new, locked file beside `path` with the bytes on the disk, and its handle."""
    for left in leftovers(path):
        left.unlink(missing_ok=True)
    new = path.with_name(_NEW.format(start=_start(path), token=secrets.token_hex(8)))
    flags = os.O_RDWR | os.O_CREAT | os.O_EXCL | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_BINARY", 0)
    try:
        handle = os.open(new, flags, _PLAIN)
    except OSError as error:
        raise type(error)(error.errno, error.strerror, str(path)) from None  # about the name that a person gave
    try:
        hold(handle)
        with open(handle, "wb", closefd=False) as file:
            file.write(data)
            file.flush()
            os.fsync(handle)
    except BaseException as error:
        new.unlink(missing_ok=True)
        os.close(handle)
        if isinstance(error, OSError):
            raise type(error)(error.errno, error.strerror, str(path)) from None
        raise
    return new, handle


def _start(path: Path) -> str:
    return f".{path.name[:200]}."


def leftovers(path: Path) -> Iterator[Path]:
    """What killed runs have left of `path`: its new files that no living process holds."""
    start = _start(path)
    names = [e.name for e in os.scandir(path.parent)] if path.parent.is_dir() else []
    for name in names:
        token = name.removeprefix(start).removesuffix(".new")
        if name == _NEW.format(start=start, token=token) and len(token) == 16 and not held(path.with_name(name)):
            yield path.with_name(name)
