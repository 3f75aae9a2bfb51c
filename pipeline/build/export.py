"""CSV twins of the built tables with a data package of their own: the whole folder, or nothing."""

import csv
import errno
import hashlib
import io
import json
from pathlib import Path
from typing import Any

import duckdb

from pipeline.sums import SUMS, Sums, written
from pipeline.writing.folders import refuse_full, replace_folder, sweep
from pipeline.writing.lock import locked

PACKAGE = "datapackage.json"


def export(catalogue: Path, out: Path, *, force: bool = False) -> list[Path]:
    """Write every table of the built catalogue as CSV into the folder `out`; the files written.

    With `force` an older export that stands there is replaced. Raises OSError where the catalogue cannot be read or
    `out` cannot be written, FileExistsError where `out` holds anything else; nothing is then left behind.
    """
    out = out.resolve()
    refuse_full(out, "an older export", force)
    files = rendered(catalogue)
    try:
        out.parent.mkdir(parents=True, exist_ok=True)
        with locked(out, "export"):
            sweep(out)
            replace_folder(files, out, ".csv")
    except OSError as error:
        raise type(error)(error.errno, error.strerror, str(out)) from error
    return [out / name for name in files]


def rendered(catalogue: Path) -> dict[str, bytes]:
    """File name → bytes of the export: a CSV file for each table, and their description.

    Raises OSError where the catalogue cannot be read.
    """
    told = Sums(catalogue)
    package = json.loads(told.read(PACKAGE))
    db = duckdb.connect(config={"threads": 1})
    files: dict[str, bytes] = {}
    for resource in package["resources"]:
        path = (catalogue / resource["path"]).as_posix().replace("'", "''")
        told.read(resource["path"])
        try:
            data = _csv(db.execute(f"select * from read_parquet('{path}')"))
        except duckdb.Error:
            raise OSError(errno.EIO, "is missing or damaged: build the catalogue again", path) from None
        resource |= _described(resource["name"], data)
        for field in resource["schema"]["fields"]:
            if span := field.pop("plausible", None):
                field["constraints"] = field.get("constraints", {}) | span
        files[resource["path"]] = data
    files |= {PACKAGE: (json.dumps(package, indent=1, ensure_ascii=False) + "\n").encode(),
              "LICENSE": _licence(package).encode()}
    return files | {SUMS: written(files).encode()}


def _licence(package: dict[str, Any]) -> str:
    """Under which licence each table stands, and where that can be read."""
    lines = [f"{package['title']}, version {package['version']}, content {package['contentHash']}", ""]
    for licence in package["licenses"]:
        tables = [r["path"] for r in package["resources"] if r["licenses"][0]["name"] == licence["name"]]
        lines += [f"{licence['name']}: {licence['title']}", licence["path"], *(f"  {name}" for name in tables), ""]
    return "\n".join([*lines, "The documents that the figures stand in are named in sources.csv and remain under "
                      "their own terms.", ""])


def _described(name: str, data: bytes) -> dict[str, Any]:
    return {"path": f"{name}.csv", "format": "csv", "mediatype": "text/csv", "encoding": "utf-8", "bytes": len(data),
            "hash": "sha256:" + hashlib.sha256(data).hexdigest()}


def _csv(cursor: duckdb.DuckDBPyConnection) -> bytes:
    """Rows as CSV in UTF-8 with LF line ends; an empty cell is a missing value."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(column[0] for column in cursor.description)
    for row in cursor.fetchall():
        writer.writerow([_cell(value) for value in row])
    return out.getvalue().encode()


def _cell(value: Any) -> Any:
    """A number in its shortest exact form, a yes or no as the data package writes it."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return repr(value).removesuffix(".0")
    return value
