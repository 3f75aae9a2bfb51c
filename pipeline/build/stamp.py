"""What a built catalogue was made from, and whether it still is what was built; the standard library only.

The digest of the raw files, the schemas and the code of the build stands in the catalogue's checksum file. Where all of
them are as they were, there is nothing to build, and pandas need not be loaded to find that out.
"""

import hashlib
import zlib
from collections.abc import Iterator
from pathlib import Path

import schemas
from pipeline.build.read import strays, table_folder
from pipeline.sums import Sums
from schemas.tables import TABLES

_CODE = ("__init__.py", "textfile.py", "build", "notation", "electrics")
"""What of `pipeline/` has a say in the built tables."""


def inputs_digest(raw: Path) -> str:
    """Digest of every raw file below `raw`, of `schemas/` and of the code that builds."""
    total = hashlib.sha256()
    for name, path in _inputs(raw):
        total.update(f"{hashlib.sha256(path.read_bytes()).hexdigest()}  {name}\n".encode())
    return total.hexdigest()


def _inputs(raw: Path) -> Iterator[tuple[str, Path]]:
    tables = [path for table in TABLES.values() for path in sorted(table_folder(raw, table).glob("*.csv"))]
    for path in (*tables, *(strays(raw) if tables else ())):
        yield path.relative_to(raw).as_posix(), path
    code = Path(__file__).parents[1]
    for root, parts in ((Path(schemas.__file__).parent, [""]), (code, _CODE)):
        for start in (root / part for part in parts):
            for path in sorted(start.rglob("*.py")) if start.is_dir() else [start]:
                yield f"{root.name}/{path.relative_to(root).as_posix()}", path


def inputs_of(folder: Path) -> str | None:
    """Digest of what the catalogue in `folder` was made from; None where it does not say."""
    return Sums(folder).inputs


def is_sound(folder: Path) -> bool:
    """Whether every file of the catalogue is there with the bytes that were built, by both checksums."""
    told = Sums(folder)
    return bool(told.sha256) and told.sha256.keys() == told.quick.keys() and all(
        _is(folder / name, digest, told.quick[name]) for name, digest in told.sha256.items())


def _is(path: Path, digest: str, quick: str) -> bool:
    data = path.read_bytes() if path.is_file() else b""
    return hashlib.sha256(data).hexdigest() == digest and f"{zlib.crc32(data):08x}" == quick


def sha256(path: Path) -> str | None:
    """SHA-256 of a file; None where there is none."""
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError:
        return None
