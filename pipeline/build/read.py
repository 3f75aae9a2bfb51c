"""Raw CSV files to rows of text cells with true line numbers; faults of file, header and text stop here."""

import re
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from pipeline.build.cells import first_slip
from pipeline.build.faults import Fault
from pipeline.build.header import header_faults
from pipeline.build.record import Record
from pipeline.textfile import BadRecord, Problem, decode, records
from schemas.tables import TABLES, Table

UNITS = "units"
"""Folder of demo units beside the tables; its files belong to no table."""
_TABULAR = (".csv", ".tsv", ".tab", ".xls", ".xlsx", ".xlsm", ".ods", ".numbers")


@dataclass(frozen=True, slots=True)
class Row:
    """One record as typed: `cells` maps column to text, `line` is the line it starts on."""

    file: str
    line: int
    cells: Record[str] | dict[str, str]


@dataclass
class Raw:
    """All raw rows by table, and the faults met while reading them."""

    rows: dict[str, list[Row]] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)
    files: list[Path] = field(default_factory=list)


def table_folder(root: Path, table: Table) -> Path:
    """Folder of the raw files of `table` below `root`."""
    return root / table.family / table.name if table.family else root / table.name


def read_tables(root: Path) -> Raw:
    """Every table's raw files below `root`; faults are collected, never raised."""
    raw = Raw()
    for table in TABLES.values():
        raw.rows[table.name] = []
        for path in sorted(table_folder(root, table).glob("*.csv")):
            raw.files.append(path)
            name = path.relative_to(root).as_posix()
            rows, faults = read_file(path, name, table)
            raw.rows[table.name] += rows
            raw.faults += faults
    if not raw.files:
        raw.faults.append(Fault("no-raw-files", str(root), 1, "-", "", "no raw tables lie here",
                                "name the folder that holds sources/, tubes/, parts/ with --raw"))
    else:
        raw.faults += [Fault("file-stray", path.relative_to(root).as_posix(), 1, "-", path.name,
                             "no table reads this file", "put it as .csv into the folder of its table, or delete it")
                       for path in strays(root)]
    return raw


def strays(root: Path) -> list[Path]:
    """Files below `root` that look like tables and that no table reads: they would be lost in silence."""
    folders = {table_folder(root, table) for table in TABLES.values()}
    return sorted(path for path in root.rglob("*") if path.is_file() and path.relative_to(root).parts[0] != UNITS
                  and (path.suffix.lower() in _TABULAR or (path.suffix == ".txt" and path.parent in folders))
                  and not (path.parent in folders and path.suffix == ".csv"))


def read_file(path: Path, name: str, table: Table) -> tuple[list[Row], list[Fault]]:
    """Rows of one raw file named `name` in messages, and its faults; a file-level fault yields no rows."""
    text, faults = _decode(path.read_bytes(), name)
    if text is None:
        return [], faults
    try:
        lines = records(text, lines_in_cells=True)
    except BadRecord as error:
        return [], [*faults, Fault("csv-broken", name, error.line, "-", "", f"cannot be read as CSV: {error.what}",
                                   "see to the quotation marks of this row")]
    while lines and not any(lines[0][1]) and len(lines) > 1:
        faults.append(_blank(name, lines.pop(0)[0]))
    if not lines or not any(lines[0][1]):
        return [], [Fault("empty-file", name, 1, "-", "", "the file is empty",
                          "give it the header " + ",".join(table.columns))]
    header = lines[0][1]
    if wrong := header_faults(header, name, lines[0][0], table):
        return [], faults + wrong
    rows = [row for line, cells in lines[1:] if (row := _row(line, cells, header, name, faults))]
    return rows, faults


def _decode(data: bytes, name: str) -> tuple[str | None, list[Fault]]:
    text = decode(data)
    if isinstance(text, Problem):
        return None, [Fault(text.rule, name, text.line, "-", text.value, text.what, text.mend)]
    faults = []
    if match := re.search("\r\n?", text):
        line = text.count("\n", 0, match.start()) + 1
        faults.append(Fault("line-ends", name, line, "-", "", "the lines do not end in a bare LF",
                            "run `tubewright tidy`"))
    if text and not text.endswith(("\n", "\r")):
        last = len(re.findall("\r\n|\r|\n", text)) + 1
        faults.append(Fault("final-newline", name, last, "-", "", "the last line has no end", "run `tubewright tidy`"))
    return text, faults


def _row(line: int, cells: list[str], header: list[str], name: str, faults: list[Fault]) -> Row | None:
    if not any(cells):
        faults.append(_blank(name, line))
        return None
    if len(cells) != len(header):
        faults.append(Fault("cell-count", name, line, "-", ",".join(cells), f"{len(cells)} cells under "
                            f"{len(header)} columns", "quote a cell that holds a comma, or add the missing commas"))
        return None
    typed = Row(name, line, dict(zip(header, cells, strict=True)))
    found = list(text_faults(typed))
    faults += found
    bad = {f.column for f in found}
    return Row(name, line, Record({c: ("" if c in bad else sys.intern(v)) for c, v in typed.cells.items()}))


def _blank(name: str, line: int) -> Fault:
    return Fault("blank-line", name, line, "-", "", "a blank line", "run `tubewright tidy`")


def text_faults(row: Row) -> Iterator[Fault]:
    """What is wrong with the row's cells as text, one fault a cell."""
    for column, cell in row.cells.items():
        if cell and (slip := first_slip(column, cell)):
            rule, what, mend = slip
            yield Fault(rule, row.file, row.line, column, cell, what, mend)
