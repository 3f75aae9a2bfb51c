"""A build from start to end: is there anything to do, do it under a lock, say what changed.

Nothing here loads pandas, pandera or pyarrow until it is known that something must be built.
"""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

from pipeline.build.stamp import inputs_digest, inputs_of, is_sound, sha256
from pipeline.sums import SUMS
from pipeline.writing.files import write_whole
from pipeline.writing.folders import litter, replace_folder, sweep
from pipeline.writing.lock import locked

PACKAGE = "datapackage.json"
_NEEDED = ("name", "path", "hash", "contentHash")


class Change(NamedTuple):
    """A built table against the one that stood before; `what` is empty where nothing changed.

    Else `new`, `rows` (its content), `description`, `damaged` (not the bytes that were built), `missing` or `gone`.
    """

    table: str
    rows_before: int | None
    rows: int
    what: str

    @property
    def changed(self) -> bool:
        return bool(self.what)


def build(raw: Path, out: Path, *, check: bool = False) -> list[Change]:
    """Build the catalogue from `raw` into `out` (with `check`: only compare) and say what changed.

    Raises BadTables with every fault found, BlockingIOError where another build is at work, and OSError where `out`
    cannot be written; the old catalogue then stays as it was.
    """
    out = out.resolve()
    inputs = inputs_digest(raw)
    current = inputs_of(out) == inputs and is_sound(out)
    if check:
        return _unchanged(out) if current else list(_changes(_made(raw, inputs), out))
    if current and not litter(out):
        return _unchanged(out)
    try:
        out.parent.mkdir(parents=True, exist_ok=True)
        with locked(out):
            return _build(raw, out, inputs)
    except OSError as error:
        raise _about(error, raw, out) from error


def _build(raw: Path, out: Path, inputs: str) -> list[Change]:
    sweep(out)
    if inputs_of(out) == inputs and is_sound(out):
        return _unchanged(out)
    files = _made(raw, inputs)
    if inputs_digest(raw) != inputs:
        raise BlockingIOError(11, "the raw tables changed while they were read: run it again", str(raw))
    changes = list(_changes(files, out))
    if any(c.changed for c in changes):
        replace_folder(files, out, ".parquet")
    else:  # other code, the same tables: only say from what
        _, rest = (out / SUMS).read_text(encoding="utf-8").split("\n", 1)
        head, _ = files[SUMS].decode().split("\n", 1)
        write_whole(out / SUMS, f"{head}\n{rest}".encode(), force=True)
    return changes


def _made(raw: Path, inputs: str) -> dict[str, bytes]:
    from pipeline.build.catalogue import assemble
    from pipeline.build.write import rendered

    return rendered(assemble(raw), inputs)


def _about(error: OSError, raw: Path, out: Path) -> OSError:
    """The error about the folder a person named, not about a temporary file in it."""
    name = Path(str(error.filename)) if error.filename else out
    shown = error.filename if raw.resolve() in (name.resolve(), *name.resolve().parents) else str(out)
    return type(error)(error.errno, error.strerror or str(error), shown)


def _package(folder: Path) -> dict[str, Any]:
    """The description of the catalogue in `folder`; one without tables where it cannot be used."""
    try:
        package = json.loads((folder / PACKAGE).read_text(encoding="utf-8"))
        usable = all(isinstance(r[key], str) for r in package["resources"] for key in _NEEDED)
    except (OSError, ValueError, KeyError, TypeError):
        usable = False
    return package if usable else {"resources": []}


def _unchanged(out: Path) -> list[Change]:
    return [Change(r["name"], r["rowCount"], r["rowCount"], "") for r in _package(out)["resources"]]


def _changes(files: dict[str, bytes], out: Path) -> Iterator[Change]:
    """Each table of `files` against what stands in `out`, then the description as a whole and the checksums."""
    package, before = json.loads(files[PACKAGE]), _package(out)
    old = {r["name"]: r for r in before["resources"]}
    for resource in package["resources"]:
        was = old.pop(resource["name"], None)
        yield Change(resource["name"], was and was["rowCount"], resource["rowCount"], _what(was, resource, out))
    for name, was in old.items():
        yield Change(name, was["rowCount"], 0, "gone")
    if before["resources"] and _bare(package) != _bare(before):
        yield Change(PACKAGE, None, 0, "description")
    elif before["resources"] and not is_sound(out):
        yield Change(SUMS, None, 0, "damaged" if (out / SUMS).is_file() else "missing")


def _what(was: dict[str, Any] | None, now: dict[str, Any], out: Path) -> str:
    if was is None:
        return "new"
    if was["contentHash"] != now["contentHash"] or was["rowCount"] != now["rowCount"]:
        return "rows"
    found = sha256(out / was["path"])
    if found is None:
        return "missing"
    if "sha256:" + found != was["hash"]:
        return "damaged"
    return "" if _essence(was) == _essence(now) else "description"


def _essence(resource: dict[str, Any]) -> dict[str, Any]:
    """A table's description without the hash of the file, which another Parquet writer changes."""
    return {k: v for k, v in resource.items() if k != "hash"}


def _bare(package: dict[str, Any]) -> dict[str, Any]:
    return {k: v for k, v in package.items() if k != "resources"}
