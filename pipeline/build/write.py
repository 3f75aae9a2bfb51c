"""Built tables to Parquet and `datapackage.json`, swapped in as a whole."""

import ctypes
import hashlib
import json
import os
import shutil
import sys
import tempfile
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq

from pipeline import __version__
from schemas.columns import COLUMNS
from schemas.tables import CC0, SHARE_ALIKE, TABLES

_DTYPES = {str: pa.string(), float: pa.float64(), int: pa.int64(), bool: pa.bool_()}
_EXTRA = {
    "table": "table the figure belongs to", "subject": "key of the row, `/` between its cells",
    "quantity": "column of that table", "text": "the observation, where it is a word", "unit": "unit of the value",
    "raw_file": "raw file the observation stands in", "raw_line": "line in that file", "chosen": "the best figure",
    "chosen_value": "the figure taken", "other_value": "the figure that differs", "chosen_source": "source of the chosen figure",
    "other_source": "source of the other figure", "chosen_evidence": "grade of the chosen figure",
    "other_evidence": "grade of the other figure", "pin": "pin number, or cap", "electrode": "electrode at the pin",
    "normal": "the name in capitals, without blanks and marks",
}
_LICENCES = {
    CC0: {"name": CC0, "path": "https://creativecommons.org/publicdomain/zero/1.0/"},
    SHARE_ALIKE: {"name": SHARE_ALIKE, "path": "https://creativecommons.org/licenses/by-sa/4.0/",
                  "title": "CC BY-SA 4.0 with the KiCad libraries' exception for designs; "
                           "from the symbol libraries of the KiCad community"},
}
_AT_FDCWD, _RENAME_EXCHANGE = -100, 2


def to_arrow(rows: list[dict], types: dict[str, type]) -> pa.Table:
    """Rows of one table as Arrow, each field with its note and unit; `types` gives the columns in order."""
    fields = [pa.field(name, _DTYPES[kind], metadata=_field_note(name)) for name, kind in types.items()]
    columns = [pa.array([_cast(row.get(name), kind) for row in rows], _DTYPES[kind]) for name, kind in types.items()]
    return pa.Table.from_arrays(columns, schema=pa.schema(fields))


def _cast(value: object, kind: type) -> object:
    return float(value) if kind is float and value is not None else value


def _field_note(name: str) -> dict[str, str]:
    column = COLUMNS.get(name)
    if column is None:
        return {"description": _EXTRA.get(name, name)}
    return {"description": column.meaning} | ({"unit": column.unit} if column.unit else {})


def write_catalogue(tables: dict[str, pa.Table], out: Path) -> None:
    """Write every table to a new folder beside `out`, then put it in the place of `out` in one step.

    Raises OSError where the folder cannot be written; the old catalogue then stays as it was.
    """
    out.parent.mkdir(parents=True, exist_ok=True)
    fresh = Path(tempfile.mkdtemp(prefix=f".{out.name}-", dir=out.parent))
    try:
        fresh.chmod(0o755)
        for name, table in tables.items():
            pq.write_table(table, fresh / f"{name}.parquet", compression="zstd", store_schema=False)
        (fresh / "datapackage.json").write_text(_package(tables, fresh), encoding="utf-8")
        _swap(fresh, out)
    finally:
        shutil.rmtree(fresh, ignore_errors=True)


def _swap(fresh: Path, out: Path) -> None:
    if not out.exists():
        fresh.rename(out)
    elif not _exchange(fresh, out):
        old = out.with_name(f".{out.name}-old")
        out.rename(old)
        fresh.rename(out)
        shutil.rmtree(old)


def _exchange(a: Path, b: Path) -> bool:
    """Swap two folders in one system call where Linux offers it; False where it does not."""
    if not sys.platform.startswith("linux"):
        return False
    call = getattr(ctypes.CDLL(None, use_errno=True), "renameat2", None)
    if call is None:
        return False
    return call(_AT_FDCWD, os.fsencode(a), _AT_FDCWD, os.fsencode(b), _RENAME_EXCHANGE) == 0


def content_hash(table: pa.Table) -> str:
    """Hash of the rows as canonical text in sorted order: survives another Parquet writer."""
    lines = sorted(json.dumps(row, sort_keys=True, ensure_ascii=False) for row in table.to_pylist())
    return hashlib.sha256("\n".join(lines).encode()).hexdigest()


def _package(tables: dict[str, pa.Table], folder: Path) -> str:
    resources = [_resource(name, table, folder / f"{name}.parquet") for name, table in tables.items()]
    package = {
        "$schema": "https://datapackage.org/profiles/2.0/datapackage.json",
        "name": "tubewright", "title": "Tubewright: tube and component ratings, every figure with its source",
        "version": __version__,
        "licenses": [_LICENCES[CC0]],
        "resources": resources,
    }
    return json.dumps(package, indent=1, ensure_ascii=False) + "\n"


def _resource(name: str, table: pa.Table, path: Path) -> dict:
    data = path.read_bytes()
    fields = [_field(table.schema.field(i)) for i in range(table.num_columns)]
    return {
        "name": name, "type": "table", "path": path.name, "format": "parquet",
        "mediatype": "application/vnd.apache.parquet", "bytes": len(data),
        "hash": "sha256:" + hashlib.sha256(data).hexdigest(), "contentHash": "sha256:" + content_hash(table),
        "rowCount": table.num_rows, "schema": {"fields": fields},
    } | ({"licenses": [_LICENCES[TABLES[name].licence]]} if name in TABLES and TABLES[name].apart else {})


def _field(field: pa.Field) -> dict:
    kinds = {"string": "string", "double": "number", "int64": "integer", "bool": "boolean"}
    notes = {key.decode(): value.decode() for key, value in (field.metadata or {}).items()}
    unit = {"unit": notes["unit"]} if "unit" in notes else {}
    return {"name": field.name, "type": kinds[str(field.type)], "description": notes.get("description", "")} | unit
