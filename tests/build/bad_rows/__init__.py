"""Tiny bad raw folders, at least one for each rule, and a writer for them.

A folder is given by its tables: table name → rows as cells, or the very bytes of its file. What a case does not give
is the smallest raw folder that builds: one source and one tube.
"""

import csv
import io
from pathlib import Path
from typing import NamedTuple

from schemas.tables import TABLES


def text(name: str, rows: list[dict]) -> str:
    """Rows of one table as a raw file, source and evidence filled in."""
    out = io.StringIO()
    writer = csv.DictWriter(out, TABLES[name].columns, restval="", extrasaction="ignore", lineterminator="\n")
    writer.writeheader()
    for row in rows:
        writer.writerow({k: cell(v) for k, v in ({"source_id": "book", "evidence": "recalled"} | row).items()})
    return out.getvalue()


def cell(value: object) -> str:
    """A number in its shortest form, nothing for None."""
    return "" if value is None else f"{value:.15g}" if isinstance(value, float) else str(value)


SOURCES = "source_id,title,publisher,year,edition,kind,licence,found_at\nbook,A Book,,1950,,handbook,,\n"
TUBE = {"type": "6J5", "function": "triode", "base": "octal", "heating": "heater", "heater_v": 6.3, "heater_a": 0.3}
TUBES = text("tubes", [TUBE])
HEADER, GOOD = TUBES.splitlines(keepends=True)

Tables = dict[str, bytes | str | list[dict]]


class Case(NamedTuple):
    """A bad raw folder, and every fault a build of it names: file (a table's name), line, column, value."""

    rule: str
    name: str
    tables: Tables
    faults: list[tuple[str, int, str, str]]


def write(root: Path, tables: Tables) -> Path:
    """The raw folder with these tables over the smallest one; a name with a point is a file of its own."""
    for name, given in ({"sources": SOURCES, "tubes": TUBES} | tables).items():
        path = root / (name if "." in name else place(name))
        path.parent.mkdir(parents=True, exist_ok=True)
        data = given if isinstance(given, str | bytes) else text(name, given)
        path.write_bytes(data.encode() if isinstance(data, str) else data)
    return root


def place(name: str) -> str:
    """The raw file of a table, below the raw folder."""
    family = TABLES[name].family
    return f"{family}/{name}/a.csv" if family else f"{name}/a.csv"
