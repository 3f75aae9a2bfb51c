"""Built tables to the bytes of a catalogue folder, and that folder put in the place of the old one as a whole."""

import ctypes
import errno
import hashlib
import os
import shutil
import sys
import tempfile
from contextlib import suppress
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq

from pipeline.build.package import PACKAGE, as_text, described
from pipeline.build.stamp import SUMS, sums
from schemas.built import BUILT

_DTYPES = {str: pa.string(), float: pa.float64(), int: pa.int64(), bool: pa.bool_()}
_AT_FDCWD, _RENAME_EXCHANGE = -100, 2


def to_arrow(rows: list[dict], types: dict[str, type]) -> pa.Table:
    """Rows of one table as Arrow; `types` gives the columns in order."""
    fields = [pa.field(name, _DTYPES[kind]) for name, kind in types.items()]
    columns = [pa.array([_cast(row.get(name), kind) for row in rows], _DTYPES[kind]) for name, kind in types.items()]
    return pa.Table.from_arrays(columns, schema=pa.schema(fields))


def _cast(value: object, kind: type) -> object:
    return float(value) if kind is float and value is not None else value


def rendered(tables: dict[str, pa.Table], inputs: str) -> dict[str, bytes]:
    """File name → bytes of a whole catalogue: the tables, their description and their checksums.

    The same tables give the same bytes on one version of the Parquet writer; `inputs` is the digest of what they
    were made from.
    """
    files = {f"{name}.parquet": _parquet(name, table) for name, table in tables.items()}
    hashes = {name: hashlib.sha256(data).hexdigest() for name, data in files.items()}
    files[PACKAGE] = as_text(described(tables, hashes)).encode()
    return files | {SUMS: sums(files, inputs).encode()}


def _parquet(name: str, table: pa.Table) -> bytes:
    notes = {c.name: {"description": c.meaning} | ({"unit": c.unit} if c.unit else {}) for c in BUILT[name].columns}
    schema = pa.schema([field.with_metadata(notes[field.name]) for field in table.schema])
    out = pa.BufferOutputStream()
    pq.write_table(table.cast(schema), out, compression="zstd")
    return out.getvalue().to_pybytes()


def write_catalogue(files: dict[str, bytes], out: Path) -> None:
    """Write the files to a new folder beside `out`, then put it in the place of `out` in one step.

    Raises OSError where the folder cannot be written, or where `out` holds what no build has made; what stood there
    before then stays as it was.
    """
    _refuse_strangers(out)
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


def _refuse_strangers(out: Path) -> None:
    """Raise FileExistsError where replacing `out` would lose something that is not a catalogue's."""
    found = sorted(out.iterdir()) if out.exists() else []
    known = [p for p in found if p.name in (PACKAGE, SUMS)]
    strange = [p for p in found if not (p.is_file() and (p.suffix == ".parquet" or p.name in (PACKAGE, SUMS)))]
    if strange or (found and not known):
        name = (strange or found)[0].name
        raise FileExistsError(errno.EEXIST, f"holds {name}, which is no part of a catalogue: move it away, or name "
                                            "a new folder with --out", str(out))


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
    with suppress(OSError):  # some systems do not let a folder be opened; the swap is done all the same
        handle = os.open(out.parent, os.O_RDONLY)
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
