"""A folder of files put in the place of another as a whole: a reader finds the old one or the new one, never half.

The files are written beside it first and the two folders swapped in one system call; where the system has none, the
old one stands under a name of its own for a moment, where `pipeline.catalogue.standing` finds it.
"""

import ctypes
import errno
import os
import shutil
import stat
import sys
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path

DESCRIBING = ("datapackage.json", "SHA256SUMS", "LICENSE")
"""Files that tell a folder of tables from any other folder."""
_AT_FDCWD, _RENAME_EXCHANGE = -100, 2


def replace_folder(files: Mapping[str, bytes], out: Path, suffixes: str | tuple[str, ...], *,
                   marks: tuple[str, ...] = DESCRIBING, durable: bool = True) -> None:
    """Write the files to a new folder beside `out`, then put it in the place of `out` in one step.

    A name may hold folders (`type/5U4G.html`). Modes stay as they were, of the folder and of each file that is written
    again. Raises OSError where the folder cannot be written, FileExistsError where `out` holds anything but files with
    those `suffixes` and those named in `marks`, one of which must be there; what stood there before then stays as it
    was. What is not `durable` is not written through to the disk file by file. The caller holds the lock of `out`.
    """
    nested = {name.rpartition("/")[0] for name in files} - {""}
    _refuse_strangers(out, suffixes, marks, bool(nested))
    with new_folder(out) as fresh:
        for folder in nested:
            (fresh / folder).mkdir(parents=True, exist_ok=True)
        for name, data in files.items():
            _write_through(fresh / name, data, out / name, durable)
        put_folder(fresh, out)


@contextmanager
def new_folder(out: Path) -> Iterator[Path]:
    """A new folder beside `out` under a name nobody can guess, gone at the end unless it has been put in a place."""
    fresh = Path(tempfile.mkdtemp(prefix=_fresh_prefix(out), dir=out.parent))
    try:
        yield fresh
    finally:
        shutil.rmtree(fresh, ignore_errors=True)


def put_folder(fresh: Path, out: Path) -> None:
    """Put `fresh` in the place of `out`, with the mode of the folder that stood there; that one is then at `fresh`."""
    if out.exists():
        fresh.chmod(stat.S_IMODE(out.stat().st_mode))
    else:
        mask = os.umask(0)
        os.umask(mask)
        fresh.chmod(0o777 & ~mask)
    _swap(fresh, out)


def _write_through(path: Path, data: bytes, before: Path, durable: bool) -> None:
    """Write a file with `before`'s mode; if `durable` down to the disk, so that no power cut can leave it empty."""
    with path.open("xb") as file:
        file.write(data)
        if durable:
            file.flush()
            os.fsync(file.fileno())
    if before.is_file():
        path.chmod(stat.S_IMODE(before.stat().st_mode))


def refuse_full(out: Path, what: str, force: bool) -> None:
    """Raise FileExistsError where `out` is a file, or without `force` a folder in which `what` would be replaced."""
    if out.exists() and not out.is_dir():
        raise FileExistsError(errno.EEXIST, "is a file: name a new folder", str(out))
    if not force and out.is_dir() and any(out.iterdir()):
        raise FileExistsError(errno.EEXIST, f"is not empty: give --force to replace {what}", str(out))


def _refuse_strangers(out: Path, suffixes: str | tuple[str, ...], marks: tuple[str, ...], nested: bool) -> None:
    """Raise FileExistsError where replacing `out` would lose something that we have not made."""
    if out.exists() and not out.is_dir():
        raise FileExistsError(errno.EEXIST, "is no folder: name a new folder", str(out))
    found = sorted(out.rglob("*") if nested else out.iterdir()) if out.exists() else []
    strange = [p for p in found if p.is_symlink() or not (
        p.is_file() and (p.name.endswith(suffixes) or p.name in marks) or nested and _is_full(p))]
    if strange or (found and not any(p.name in marks for p in found)):
        name = (strange or found)[0].name
        raise FileExistsError(errno.EEXIST, f"holds {name}, which is no part of it: name a new folder", str(out))


def _is_full(path: Path) -> bool:
    return path.is_dir() and any(path.iterdir())


def _fresh_prefix(out: Path) -> str:
    return f".{out.name[:200]}.building-"


def _old(out: Path) -> Path:
    """Where the old folder stands for a moment when two folders cannot be swapped in one step."""
    return out.with_name(f".{out.name}-old")


def litter(out: Path) -> list[Path]:
    """What writers that were killed have left beside `out`: folders of ours, no links and nothing of another's."""
    if not out.parent.is_dir():
        return []
    begun = [Path(e.path) for e in os.scandir(out.parent) if e.name.startswith(_fresh_prefix(out))]
    found = [path for path in begun if _is_own(path)]
    return found + ([_old(out)] if (_old(out) / DESCRIBING[0]).is_file() and _is_own(_old(out)) else [])


def _is_own(folder: Path) -> bool:
    found = folder.lstat()
    return stat.S_ISDIR(found.st_mode) and (not hasattr(os, "geteuid") or found.st_uid == os.geteuid())


def sweep(out: Path) -> None:
    """Clear away what killed writers have left; an old folder that lost its place gets it back. Under the lock only."""
    if not out.exists() and _old(out).is_dir() and not _old(out).is_symlink():
        _old(out).rename(out)
    for folder in litter(out):
        shutil.rmtree(folder, ignore_errors=True)


def _swap(fresh: Path, out: Path) -> None:
    if not out.exists():
        fresh.rename(out)
    elif not _exchange(fresh, out):
        out.rename(_old(out))
        try:
            fresh.rename(out)
        except OSError:
            _old(out).rename(out)
            raise
        shutil.rmtree(_old(out), ignore_errors=True)
    _settle(out.parent)


def _settle(folder: Path) -> None:
    """Bring the swap itself down to the disk."""
    with suppress(OSError):  # some systems do not let a folder be opened; the swap is done all the same
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _exchange(a: Path, b: Path) -> bool:
    """Swap two folders in one system call where Linux offers it; False where it does not."""
    if not sys.platform.startswith("linux"):
        return False
    call = getattr(ctypes.CDLL(None, use_errno=True), "renameat2", None)
    if call is None:
        return False
    return call(_AT_FDCWD, os.fsencode(a), _AT_FDCWD, os.fsencode(b), _RENAME_EXCHANGE) == 0
