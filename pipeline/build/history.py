"""Two built catalogues compared: every changed value, why, and the least step of the data version it asks for."""

import errno
import json
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NamedTuple

import duckdb

from pipeline.build.points import numbered
from pipeline.sums import Sums

STEPS = ("none", "patch", "minor", "major")
"""From nothing changed to a change that breaks a reader's query."""

DERIVED = ("disagreements", "gaps", "corrections", "releases", "sources")
"""Tables that follow from the others: what changes only in them is a patch."""

_NO_PART = {"figures": ("raw_file", "raw_line", "type", "note", "chosen")}
"""Columns that may differ without any value having changed."""
_OWN_KEYS = {"figures": ("table", "subject", "quantity", "source_id", "locator", "evidence")}


class Change(NamedTuple):
    """One change. `kind`: `value`, `row added`, `row removed`, `column added`, `column removed`, `column redefined`,
    `table added` or `table removed`; `why` is what a correction or a note says about it."""

    kind: str
    table: str
    subject: str
    column: str
    old: Any
    new: Any
    why: str


@dataclass(frozen=True)
class History:
    """All changes, the version of each side, and the least step between the two that they ask for."""

    old_version: str
    new_version: str
    step: str
    changes: tuple[Change, ...]

    @property
    def version_fits(self) -> bool:
        """Whether the version has been raised at least as far as the changes ask."""
        return STEPS.index(step_between(self.old_version, self.new_version)) >= STEPS.index(self.step)


class _Package:
    """One built catalogue: its description, and its rows through DuckDB."""

    def __init__(self, folder: Path):
        self.folder = folder
        self._sums = Sums(folder)
        if not (folder / "datapackage.json").is_file():
            raise FileNotFoundError(2, "no built catalogue (datapackage.json is missing)", str(folder))
        self.json = json.loads(self._sums.read("datapackage.json"))
        self.tables: dict[str, dict[str, Any]] = {r["name"]: r for r in self.json["resources"]}
        for table in self.tables.values():
            if not {"path", "schema", "contentHash", "rowCount"} <= table.keys():
                raise ValueError(f"the description of {table['name']} is not whole")
        self.version = str(self.json.get("version", ""))
        _numbers(self.version)
        self._db = duckdb.connect(config={"threads": 1})

    def rows(self, table: str) -> list[dict[str, Any]]:
        file = self.folder / self.tables[table]["path"]
        self._sums.read(file.name)
        path = file.as_posix().replace("'", "''")
        try:
            cursor = self._db.execute(f"select * from read_parquet('{path}')")
        except duckdb.Error:
            raise OSError(errno.EIO, "is missing or damaged: build that catalogue again", str(file)) from None
        names = [column[0] for column in cursor.description]
        return [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]

    def fields(self, table: str) -> dict[str, dict[str, Any]]:
        return {field["name"]: field for field in self.tables[table]["schema"]["fields"]}

    def key(self, table: str) -> tuple[str, ...]:
        schema = self.tables[table]["schema"]
        return _OWN_KEYS.get(table) or tuple(schema.get("primaryKey") or (schema.get("uniqueKeys") or [[]])[0])


def compare(old: Path, new: Path) -> History:
    """What changed from the built catalogue `old` to `new`.

    Raises OSError where one of them cannot be read, ValueError where it is no built catalogue.
    """
    before, after = _opened(old), _opened(new)
    why = _reasons(after)
    changes: list[Change] = []
    for name in dict.fromkeys((*before.tables, *after.tables)):
        if name not in after.tables:
            changes.append(Change("table removed", name, "", "", before.tables[name]["rowCount"], None, ""))
        elif name not in before.tables:
            changes.append(Change("table added", name, "", "", None, after.tables[name]["rowCount"], ""))
        else:
            changes += _columns(name, before, after)
            if before.tables[name]["contentHash"] != after.tables[name]["contentHash"]:
                changes += _rows(name, before, after, why)
    steps = [_step(c) for c in changes] + (["patch"] if before.json != after.json else [])
    return History(before.version, after.version, max(steps, key=STEPS.index, default="none"), tuple(changes))


def release(history: History, day: str) -> list[dict[str, Any]]:
    """The change list of the newer side as rows of the raw table `releases`: each table and kind of change, counted.

    A table that came or went is counted by its rows. `what` names the columns that came, went or were redefined, and
    those whose cells changed.
    """
    groups: dict[tuple[str, str], list[Change]] = {}
    for change in history.changes:
        if change.table != "releases":
            groups.setdefault((change.table, change.kind), []).append(change)
    return [{"version": history.new_version, "released": day, "table": table, "change": kind,
             "count": found[0].old or found[0].new if kind.startswith("table") else len(found),
             "what": ", ".join(sorted({c.column for c in found if c.column})) or None}
            for (table, kind), found in groups.items()]


def _opened(folder: Path) -> _Package:
    try:
        return _Package(folder)
    except (ValueError, KeyError, TypeError) as error:
        raise ValueError(f"{folder}: datapackage.json is not that of a built catalogue: {error}") from None


def _columns(table: str, before: _Package, after: _Package) -> Iterator[Change]:
    old, new = before.fields(table), after.fields(table)
    for name in dict.fromkeys((*old, *new)):
        was, now = (_definition(fields[name]) if name in fields else None for fields in (old, new))
        if was != now:
            kind = "column added" if was is None else "column removed" if now is None else "column redefined"
            yield Change(kind, table, "", name, was, now, "")


def _definition(field: dict[str, Any]) -> str:
    """What a reader's query relies on: type and unit."""
    return field["type"] + (f" in {field['unit']}" if field.get("unit", "1") != "1" else "")


def _rows(table: str, before: _Package, after: _Package, why: Callable[[str, str, str], str]) -> Iterator[Change]:
    key = tuple(k for k in after.key(table) if k in before.fields(table))
    shared = [c for c in after.fields(table) if c in before.fields(table) and c not in key
              and c not in _NO_PART.get(table, ())]
    old, new = ({tuple(row[k] for k in key): row for row in side.rows(table)} for side in (before, after))
    for place in dict.fromkeys((*old, *new)):
        subject = _subject(key, place)
        if place not in new:
            yield Change("row removed", table, subject, "", None, None, "")
        elif place not in old:
            yield Change("row added", table, subject, "", None, None, "")
        else:
            for column in shared:
                if old[place][column] != new[place][column]:
                    yield Change("value", table, subject, column, old[place][column], new[place][column],
                                 why(*_about(table, subject, column, new[place])))


def _subject(key: tuple[str, ...], place: tuple[Any, ...]) -> str:
    """The row's key as figures name it: its cells with `/` between, the number of a second point behind `#`."""
    if key[-1:] != ("point",):
        return "/".join(_shown(cell) for cell in place)
    return numbered("/".join(_shown(cell) for cell in place[:-1]), place[-1])


def _about(table: str, subject: str, column: str, row: dict[str, Any]) -> tuple[str, str, str]:
    """Table, subject and column of the wide table that a changed cell belongs to."""
    return (row["table"], row["subject"], row["quantity"]) if table == "figures" else (table, subject, column)


def _reasons(after: _Package) -> Callable[[str, str, str], str]:
    """What says why a value is what it is: an accepted correction first, else the note of its chosen figure."""
    said: dict[tuple[str, str, str], str] = {}
    for row in after.rows("figures") if "figures" in after.tables else []:
        if row["chosen"]:
            text = f"{row['evidence']}, {row['source_id']}" + (f": {row['note']}" if row["note"] else "")
            said[row["table"], row["subject"], row["quantity"]] = text
    for row in after.rows("corrections") if "corrections" in after.tables else []:
        if row["status"] == "accepted":
            said[row["table"], row["subject"], row["column"]] = \
                f"corrected from {row['printed']} (printed in {row['printed_in']}): {row['reason']}"
    return lambda table, subject, column: said.get((table, subject, column), "")


def _step(change: Change) -> str:
    """Corrected value = patch, new rows = minor, column added, removed or redefined = major."""
    if change.table in DERIVED and change.kind in ("value", "row added", "row removed", "table added"):
        return "patch"
    if change.kind == "value" or (change.kind == "row removed" and change.table == "figures"):
        return "patch"
    return "minor" if change.kind in ("row added", "table added") else "major"


def step_between(old: str, new: str) -> str:
    """The step from version `old` to `new`; `none` where it is not raised. Raises ValueError for what is no x.y.z."""
    a, b = (_numbers(version) for version in (old, new))
    if b <= a:
        return "none"
    return ("major", "minor", "patch")[next(i for i in range(3) if a[i] != b[i])]


def _numbers(version: str) -> tuple[int, ...]:
    if not re.fullmatch(r"[0-9]{1,9}\.[0-9]{1,9}\.[0-9]{1,9}", version):
        raise ValueError(f"version {version[:40]!r} is not of the form 1.2.3")
    return tuple(int(x) for x in version.split("."))


def _shown(cell: Any) -> str:
    return "" if cell is None else f"{cell:g}" if isinstance(cell, float) else str(cell)
