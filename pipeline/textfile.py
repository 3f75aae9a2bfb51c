"""Text files as people save them: decoding, and CSV records with the line each starts on."""

import csv
import io
import re
from collections.abc import Iterable
from difflib import get_close_matches
from typing import NamedTuple

PROBLEMS = {
    "byte-order-mark": "a file does not start with a byte-order mark",
    "not-utf-8": "a file is UTF-8, neither UTF-16 nor CP1252",
    "not-text": "a file is text, no workbook saved under another name",
}
"""Rule id → what must hold for a file to be read at all."""


class Problem(NamedTuple):
    """What is wrong with a file as text: a rule id, the line, what was met, and how to mend it."""

    rule: str
    line: int
    value: str
    what: str
    mend: str


def decode(data: bytes) -> str | Problem:
    """Text of a UTF-8 file, or the problem that keeps it from being read."""
    if data.startswith(b"\xef\xbb\xbf"):
        return Problem("byte-order-mark", 1, "", "the file starts with a byte-order mark",
                       "save it as plain UTF-8, not 'UTF-8 with BOM'")
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return Problem("not-utf-8", 1, "", "UTF-16 text", "save the file as UTF-8")
    if b"\0" in data:
        return Problem("not-text", data.count(b"\n", 0, data.index(b"\0")) + 1, "", "not a text file",
                       "save it as CSV or TOML text, not as a workbook")
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        bad = data[error.start:error.start + 1]
        letter = bad.decode("cp1252", "ignore")
        shown = f", in CP1252 {letter}" if letter.isprintable() and letter else ""
        return Problem("not-utf-8", line, letter, f"not UTF-8 text (the byte 0x{bad.hex()}{shown})",
                       "save the file as UTF-8")


class BadRecord(csv.Error):
    """A record that cannot be told from its neighbours; `line` is where it starts."""

    def __init__(self, line: int, what: str):
        self.line, self.what = line, what
        super().__init__(f"line {line}: {what}")


_LONGEST_CELL = 131_072
_SAID = {"unexpected end of data": "a quotation mark is opened and never closed",
         "',' expected": "text stands behind a closing quotation mark",
         "field larger": f"a cell of more than {_LONGEST_CELL} characters"}
"""How the messages of Python's reader begin, and what they mean to a person."""


def records(text: str, *, lines_in_cells: bool = False, delimiter: str = ",") -> list[tuple[int, list[str]]]:
    """CSV records with the line each starts on.

    Raises BadRecord for what would swallow rows: a quotation mark that is not closed, or (but for `lines_in_cells`)
    closed so late that a cell holds whole lines with commas; for text behind a closing mark, and a cell too large.
    """
    reader = csv.reader(io.StringIO(text, newline=""), strict=True, delimiter=delimiter)
    found, line = [], 1
    try:
        for cells in reader:
            if reader.line_num > line and not lines_in_cells and any(_holds_rows(cell, delimiter) for cell in cells):
                raise BadRecord(line, "a quoted cell runs over several lines and holds what looks like rows")
            if any(len(cell) > _LONGEST_CELL for cell in cells):  # whatever limit another library has set for all
                raise BadRecord(line, _SAID["field larger"])
            found.append((line, cells))
            line = reader.line_num + 1
    except BadRecord:
        raise
    except csv.Error as error:
        said = str(error).replace(f"'{delimiter}' expected", "',' expected")
        raise BadRecord(line, next((what for begin, what in _SAID.items() if said.startswith(begin)), said)) from None
    return found


def _holds_rows(cell: str, delimiter: str) -> bool:
    return any(delimiter in line for line in re.split(r"\r\n|\r|\n", cell)[1:])


def printable(text: str) -> str:
    """The text with what does not print, or would move a terminal's cursor, written as an escape such as \\x1b."""
    return text if text.isprintable() else "".join(
        c if c.isprintable() else c.encode("unicode_escape").decode("ascii") for c in text)


def hint(word: str, known: Iterable[str], otherwise: str) -> str:
    """`did you mean ...?` with the nearest of the known words, or what else to do."""
    near = get_close_matches(word, list(known), 1, 0.5)
    return f"did you mean {near[0]}?" if near else otherwise
