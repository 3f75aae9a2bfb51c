"""Checksums of a built catalogue and of what it was made from; the standard library only.

`SHA256SUMS` lists every file (`sha256sum -c` reads it) and, in a comment, the digest of the raw files, the schemas and
the code of the build. Where all of them are as they were, there is nothing to build, and pandas need not be loaded
to find that out.
"""

import hashlib
from collections.abc import Iterator
from pathlib import Path

import schemas
from pipeline.build.read import strays, table_folder
from schemas.tables import TABLES

SUMS = "SHA256SUMS"
_INPUTS = "# inputs sha256:"
_CODE = ("__init__.py", "textfile.py", "build", "notation")
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


def sums(files: dict[str, bytes], inputs: str) -> str:
    """The checksum file for `files`, made from what `inputs` is the digest of."""
    lines = [f"{hashlib.sha256(data).hexdigest()}  {name}\n" for name, data in files.items()]
    return f"{_INPUTS}{inputs}\n" + "".join(lines)


def inputs_of(folder: Path) -> str | None:
    """Digest of what the catalogue in `folder` was made from; None where it does not say."""
    text = _text(folder)
    return text.partition("\n")[0].removeprefix(_INPUTS) if text.startswith(_INPUTS) else None


def is_sound(folder: Path) -> bool:
    """Whether every file of the catalogue is there with the bytes that were built."""
    lines = [line.split("  ", 1) for line in _text(folder).splitlines() if not line.startswith("#")]
    return bool(lines) and all(len(line) == 2 and sha256(folder / line[1]) == line[0] for line in lines)


def sha256(path: Path) -> str | None:
    """SHA-256 of a file; None where there is none."""
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError:
        return None


def _text(folder: Path) -> str:
    try:
        return (folder / SUMS).read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError):
        return ""
