"""Raw CSV files to rows of text cells with true line numbers; faults of file, header and text stop here."""

import csv
import re
from dataclasses import dataclass, field
from pathlib import Path

from pipeline.build.faults import Fault
from pipeline.textfile import Problem, decode, records
from schemas.tables import TABLES, Table

_EXPONENT = re.compile(r"^\d+(?:\.\d+)?[eE][+-]\d+$")
_DATE = re.compile(r"^(?:\d{1,2}[-/](?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)\w*|\d{4}-\d\d-\d\d"
                   r"|(?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*-\d{2})$", re.IGNORECASE)
_MOJIBAKE = re.compile("Â[µ°±Ω ]|Ã[©¨¼¶¤]|â€|Î©|ï»¿|�")
_SPREADSHEET_ERRORS = ("#NAME?", "#REF!", "#VALUE!", "#N/A", "#DIV/0!", "#NUM!")


@dataclass(frozen=True)
class Row:
    """One record as typed: `cells` maps column to text, `line` is the line it starts on."""

    file: str
    line: int
    cells: dict[str, str]


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
    return raw


def read_file(path: Path, name: str, table: Table) -> tuple[list[Row], list[Fault]]:
    """Rows of one raw file named `name` in messages, and its faults; a file-level fault yields no rows."""
    text, faults = _decode(path.read_bytes(), name)
    if text is None:
        return [], faults
    try:
        lines = records(text)
    except csv.Error as error:
        return [], [*faults, Fault("csv-broken", name, 1, "-", "", f"cannot be read as CSV: {error}",
                                   "look for a quotation mark that is not closed")]
    if not lines:
        return [], [*faults, Fault("empty-file", name, 1, "-", "", "the file is empty",
                                   "give it the header " + ",".join(table.columns))]
    header_faults = _header(lines[0][1], name, table)
    if header_faults:
        return [], faults + header_faults
    rows = []
    for line, cells in lines[1:]:
        if row := _row(line, cells, lines[0][1], name, faults):
            rows.append(row)
    return rows, faults


def _decode(data: bytes, name: str) -> tuple[str | None, list[Fault]]:
    text = decode(data)
    if isinstance(text, Problem):
        return None, [Fault(text.rule, name, text.line, "-", text.value, text.what, text.mend)]
    faults = []
    if "\r" in text:
        line = text.count("\n", 0, text.index("\r")) + 1
        faults.append(Fault("line-ends", name, line, "-", "", "the lines do not end in a bare LF",
                            "run `tubewright tidy`"))
    if text and not text.endswith("\n"):
        faults.append(Fault("final-newline", name, text.count("\n") + 1, "-", "", "the last line has no end",
                            "run `tubewright tidy`"))
    return text, faults


def _header(header: list[str], name: str, table: Table) -> list[Fault]:
    if len(header) == 1 and ";" in header[0]:
        return [Fault("semicolons", name, 1, "-", header[0], "the cells are parted by semicolons",
                      "save it as comma-separated CSV")]
    faults = []
    for column in dict.fromkeys(header):
        if header.count(column) > 1:
            faults.append(Fault("column-twice", name, 1, column, column, "this column stands twice", "keep one"))
        if column not in table.columns:
            faults.append(Fault("column-unknown", name, 1, column or "-", column, "no such column",
                                "the columns are " + ",".join(table.columns)))
    for column in table.columns:
        if column not in header:
            faults.append(Fault("column-missing", name, 1, column, "", "this column is missing",
                                "the header must be " + ",".join(table.columns)))
    if not faults and tuple(header) != table.columns:
        faults.append(Fault("column-order", name, 1, "-", ",".join(header), "the columns stand in another order",
                            "the header must be " + ",".join(table.columns)))
    return faults


def _row(line: int, cells: list[str], header: list[str], name: str, faults: list[Fault]) -> Row | None:
    if not any(cells):
        faults.append(Fault("blank-line", name, line, "-", "", "a blank line", "run `tubewright tidy`"))
        return None
    if len(cells) != len(header):
        faults.append(Fault("cell-count", name, line, "-", ",".join(cells), f"{len(cells)} cells under "
                            f"{len(header)} columns", "quote a cell that holds a comma, or add the missing commas"))
        return None
    found = [f for column, cell in zip(header, cells, strict=True) for f in _text_faults(name, line, column, cell)]
    faults += found
    bad = {f.column for f in found}
    return Row(name, line, {c: ("" if c in bad else v) for c, v in zip(header, cells, strict=True)})


def _text_faults(name: str, line: int, column: str, cell: str) -> list[Fault]:
    def fault(rule: str, what: str, mend: str) -> list[Fault]:
        return [Fault(rule, name, line, column, cell, what, mend)]

    if not cell:
        return []
    if "\u00a0" in cell or "\u202f" in cell:
        return fault("no-break-space", "holds a no-break space", "use a plain blank")
    if cell != cell.strip():
        return fault("padding", "blanks before or after", "run `tubewright tidy`")
    if "\n" in cell:
        return fault("line-break", "a line break inside the cell", "write it on one line")
    if any(ord(c) < 32 or ord(c) == 127 for c in cell):
        return fault("control-character", "holds a control character", "type the cell anew")
    if cell.upper() in _SPREADSHEET_ERRORS:
        return fault("spreadsheet-error", "a spreadsheet's error value", "type what the document prints")
    if _MOJIBAKE.search(cell):
        return fault("mojibake", "letters garbled by a wrong encoding", "type them anew and save as UTF-8")
    if column in ("type", "designation", "substitute", "basing", "base") and _EXPONENT.match(cell):
        return fault("exponent-name", "a spreadsheet turned a name such as 6E5 into a number",
                     "type the name as text")
    if column in ("type", "designation", "substitute", "basing", "base", "pins", "locator") and _DATE.match(cell):
        return fault("date-name", "a spreadsheet turned a name into a date", "type the name as text")
    return []
