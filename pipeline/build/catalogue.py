"""The whole build: raw folder in, catalogue folder out; all faults in one run, nothing half-written."""

import json
from pathlib import Path
from typing import NamedTuple

import pyarrow as pa

from pipeline.build.audit import audit
from pipeline.build.faults import BadTables, Fault
from pipeline.build.normalise import TypedRow, normalise
from pipeline.build.open_data import open_disagreements, open_tables
from pipeline.build.pins import split_pins
from pipeline.build.read import Raw, read_tables
from pipeline.build.reconcile import Disagreement, Figure, Reconciled, reconcile
from pipeline.build.write import content_hash, to_arrow, write_catalogue
from pipeline.notation.names import normal
from schemas.columns import COLUMNS
from schemas.tables import SOURCES, TABLES, Table

_KINDS = {"text": str, "number": float, "integer": int}


class Change(NamedTuple):
    """A built table against the one that stood before: row counts and whether its content differs."""

    table: str
    rows_before: int | None
    rows: int
    changed: bool


def build(raw: Path, out: Path, *, check: bool = False) -> list[Change]:
    """Build the catalogue from `raw` into `out` (with `check`: only compare) and say what changed.

    Raises BadTables with every fault found, and OSError where `out` cannot be written; the old catalogue then
    stays as it was.
    """
    tables = assemble(raw)
    changes = _changes(tables, out)
    if not check and (any(c.changed for c in changes) or not (out / "datapackage.json").is_file()):
        write_catalogue(tables, out)
    return changes


def assemble(raw: Path) -> dict[str, pa.Table]:
    """Every built table in memory; raises BadTables."""
    typed, faults = checked(read_tables(raw))
    if faults:
        raise BadTables(faults)
    return _tables(typed)


def checked(raw: Raw) -> tuple[dict[str, list[TypedRow]], list[Fault]]:
    """Typed rows of every table, and every fault of file, text, type, schema and audit."""
    faults = list(raw.faults)
    typed: dict[str, list[TypedRow]] = {}
    bad = {(f.file, f.line, f.column) for f in faults}
    for name, table in TABLES.items():
        typed[name], found = normalise(raw.rows[name], table, bad)
        faults += found
    return typed, faults + audit(typed, bad)


def _tables(typed: dict[str, list[TypedRow]]) -> dict[str, pa.Table]:
    sources = {str(r.values["source_id"]): r.values for r in typed["sources"]}
    done = {name: reconcile(typed[name], t, sources) for name, t in TABLES.items()
            if t.observed and not t.apart}
    tables = {"sources": to_arrow(sorted((r.values for r in typed["sources"]), key=lambda v: str(v["source_id"])),
                                  _types(SOURCES.columns))}
    for name, result in done.items():
        if name not in ("basings", "tube_pins", "designations"):
            tables[name] = to_arrow(result.rows, _wide_types(TABLES[name]))
    tables["designations"] = _designations(done)
    tables["pins"] = _pins(done)
    tables["figures"] = _named(Figure, [f for r in done.values() for f in r.figures])
    tables["disagreements"] = _named(Disagreement, [
        *(d for r in done.values() for d in r.disagreements), *open_disagreements(typed, done)])
    return tables | open_tables(typed, done)


def _types(names: tuple[str, ...]) -> dict[str, type]:
    return {name: _KINDS[COLUMNS[name].kind] for name in names}


def _wide_types(table: Table) -> dict[str, type]:
    return _types((*table.key, *table.values)) | {"evidence": str}


def _named(kind: type, rows: list) -> pa.Table:
    numbers = {"value": float, "raw_line": int, "chosen": bool}
    return to_arrow([r._asdict() for r in rows], {name: numbers.get(name, str) for name in kind._fields})


def _designations(done: dict[str, Reconciled]) -> pa.Table:
    """Every name of every type, its own and the diodes' and lamps' included, in the form a reader looks up."""
    rows = [r | {"normal": normal(str(r["designation"]))} for r in done["designations"].rows]
    return to_arrow(rows, _wide_types(TABLES["designations"]) | {"normal": str})


def _pins(done: dict[str, Reconciled]) -> pa.Table:
    maps = {str(r["basing"]): r for r in done["basings"].rows}
    own = {str(r["type"]): r for r in done["tube_pins"].rows}
    rows = []
    for tube in done["tubes"].rows:
        basing = str(tube["basing"])
        found = own.get(str(tube["type"])) or maps.get(basing)
        if found:
            rows += [pin | {"type": tube["type"], "evidence": found["evidence"]} for pin in split_pins(found["pins"])]
    return to_arrow(rows, {"type": str, "pin": str, "section": str, "electrode": str, "evidence": str})


def _changes(tables: dict[str, pa.Table], out: Path) -> list[Change]:
    old = {}
    if (out / "datapackage.json").is_file():
        package = json.loads((out / "datapackage.json").read_text(encoding="utf-8"))
        old = {r["name"]: r for r in package["resources"] if (out / r["path"]).is_file()}
    changes = []
    for name, table in tables.items():
        before = old.pop(name, None)
        same = before is not None and before["contentHash"] == "sha256:" + content_hash(table) \
            and [f["name"] for f in before["schema"]["fields"]] == table.schema.names
        changes.append(Change(name, before and before["rowCount"], table.num_rows, not same))
    return changes + [Change(name, before["rowCount"], 0, True) for name, before in old.items()]


__all__ = ["BadTables", "Change", "Fault", "assemble", "build", "split_pins"]
