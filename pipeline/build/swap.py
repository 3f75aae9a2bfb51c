"""A folder of files put in the place of another as a whole: a reader finds the old one or the new one, never half.

The files are written beside it first and the two folders swapped in one system call; where the system has none, the
old one stands under a name of its own for a moment, where `pipeline.catalogue.standing` finds it.
"""

import ctypes
import errno
import os
import shutil
import sys
import tempfile
from contextlib import suppress
from pathlib import Path

DESCRIBING = ("datapackage.json", "SHA256SUMS")
"""Files that tell a folder of tables from any other folder."""
_AT_FDCWD, _RENAME_EXCHANGE = -100, 2


def replace_folder(files: dict[str, bytes], out: Path, suffix: str) -> None:
    """Write the files to a new folder beside `out`, then put it in the place of `out` in one step.

    Raises OSError where the folder cannot be written, FileExistsError where `out` holds anything but tables with that
    `suffix` and their description; what stood there before then stays as it was.
    """
    _refuse_strangers(out, suffix)
    fresh = Path(tempfile.mkdtemp(prefix=_fresh_prefix(out), dir=out.parent))
    try:
        for name, data in files.items():
            _write_through(fresh / name, data)
        fresh.chmod(0o755)
        _swap(fresh, out)
    finally:
        shutil.rmtree(fresh, ignore_errors=True)


def _write_through(path: Path, data: bytes) -> None:
    """Write a file down to the disk, so that a power cut after the swap cannot leave it empty."""
    with path.open("wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())


def _refuse_strangers(out: Path, suffix: str) -> None:
    """Raise FileExistsError where replacing `out` would lose something that no build has made."""
    found = sorted(out.iterdir()) if out.exists() else []
    strange = [p for p in found if not (p.is_file() and (p.suffix == suffix or p.name in DESCRIBING))]
    if strange or (found and not any(p.name in DESCRIBING for p in found)):
        name = (strange or found)[0].name
        raise FileExistsError(errno.EEXIST, f"holds {name}, which is no part of it: name a new folder", str(out))


def _fresh_prefix(out: Path) -> str:
    return f".{out.name}.building-"


def _old(out: Path) -> Path:
    """Where the old catalogue stands for a moment when two folders cannot be swapped in one step."""
    return out.with_name(f".{out.name}-old")


def litter(out: Path) -> list[Path]:
    """What builds that were killed have left beside `out`."""
    if not out.parent.is_dir():
        return []
    return [p for p in (*out.parent.glob(_fresh_prefix(out).replace("[", "[[]") + "*"), _old(out)) if p.exists()]


def sweep(out: Path) -> None:
    """Clear away what killed builds have left; an old catalogue that lost its place gets it back."""
    if not out.exists() and _old(out).is_dir():
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
