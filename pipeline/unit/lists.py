"""A list that a person keeps in a spreadsheet: CSV with commas, or as a European one saves it, read into cells."""

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from pipeline.records import Record
from pipeline.textfile import BadRecord, Problem, decode, hint, printable, records
from pipeline.unit.faults import Faults

BYTE_ORDER_MARK = b"\xef\xbb\xbf"
DELIMITERS = ",;\t"
MOST_BYTES = 20_000_000
MOST_ROWS = 20_000
"""More lines than any chassis has: beyond it the file is surely not a list of one unit."""


class Row(Record):
    """One line of a list: where it starts, and its cells by column, blanks round them taken off."""

    line: int
    cells: dict[str, str]

    def __getitem__(self, column: str) -> str:
        return self.cells.get(column, "")


class Columns(NamedTuple):
    """What a list may hold: its columns, those it must have, and other words for them."""

    all: Sequence[str]
    must: Sequence[str]
    same: Mapping[str, str]
    of: str


def text_of(faults: Faults) -> str | None:
    """The text of the file that `faults` is of, its byte-order mark taken off; None, and a fault, where it is none."""
    path = faults.path
    try:
        if not path.is_file():  # a pipe would be waited for, a device has no end
            faults.add(1, "is no file: put a text file in its place")
        elif path.stat().st_size > MOST_BYTES:
            faults.add(1, f"larger than {MOST_BYTES // 1_000_000} MB: is this one unit's?")
        else:
            return _decoded(path.read_bytes(), faults)
    except OSError as error:
        faults.add(1, f"cannot be read: {error.strerror or error}")
    return None


def _decoded(data: bytes, faults: Faults) -> str | None:
    text = decode(data.removeprefix(BYTE_ORDER_MARK))
    if isinstance(text, Problem):
        faults.add(text.line, f"{text.what}: {text.mend}")
        return None
    return text


def rows_of(text: str, columns: Columns, faults: Faults) -> Iterator[Row] | None:
    """The rows of a list below its header; None, and a fault, where it cannot be told which cell is which."""
    told, text = re.match(r"sep=(.)\r?\n", text), re.sub(r"\Asep=.(?=\r?\n)", "", text)
    delimiter = told[1] if told and told[1] in DELIMITERS else delimiter_of(text)
    try:
        lines = [(n, _trimmed(cells)) for n, cells in records(text, delimiter=delimiter)]
    except BadRecord as error:
        faults.add(error.line, f"not CSV: {error.what}: mend its quotation marks")
        return None
    lines = [(n, cells) for n, cells in lines if cells]
    if not lines:
        faults.add(1, f"no row holds anything: give it the header {','.join(columns.all)}")
        return None
    if len(lines) > MOST_ROWS:
        faults.add(lines[MOST_ROWS][0], f"more than {MOST_ROWS} lines: is this one unit's list of {columns.of}?")
        return None
    header = _header(*lines[0], columns, faults)
    return None if header is None else _rows(lines[1:], header, delimiter, faults)


def delimiter_of(text: str) -> str:
    """What parts the cells of the first line that holds any: commas unless it has none."""
    first = next((line for line in text.splitlines() if line.strip(f'"{DELIMITERS} ')), "")
    return next((d for d in DELIMITERS if d in first), ",")


def _trimmed(cells: list[str]) -> list[str]:
    """The cells, blanks round them taken off, without the empty ones behind the last that holds something."""
    cells = [cell.strip() for cell in cells]
    while cells and not cells[-1]:
        cells.pop()
    return cells


def _header(line: int, cells: list[str], columns: Columns, faults: Faults) -> list[str] | None:
    """Names of the columns in small letters, an empty one for what is none; None where one is missing."""
    header = [columns.same.get(cell.lower(), cell.lower()) for cell in cells]
    missing = [name for name in columns.must if name not in header]
    for name in missing:
        faults.add(line, f"the column {name} is missing: the header is {','.join(columns.all)}")
    for name in dict.fromkeys(header):
        if header.count(name) > 1:
            faults.add(line, f"the column {printable(name[:40])} stands twice: keep one")
        if name not in columns.all:
            near = hint(name, [c for c in columns.all if c not in header], "the columns are " + ",".join(columns.all))
            faults.add(line, f"unknown column {printable(name[:40])!r}: {near}")
    return None if missing else [name if name in columns.all else "" for name in header]


def _rows(lines: list[tuple[int, list[str]]], header: list[str], delimiter: str, faults: Faults) -> Iterator[Row]:
    for line, cells in lines:
        if len(cells) > len(header):
            holds = {",": "comma, such as 0,38", ";": "semicolon"}.get(delimiter, "tab")
            faults.add(line, f"{len(cells)} cells under {len(header)} columns: put quotation marks round a cell that "
                             f"holds a {holds}")
        yield Row(line, {name: cell for name, cell in zip(header, cells, strict=False) if name})
