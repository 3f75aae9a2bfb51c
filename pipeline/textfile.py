"""Text files as people save them: decoding, and CSV records with the line each starts on."""

import csv
import errno
import io
import os
from collections.abc import Iterable
from difflib import get_close_matches
from pathlib import Path
from typing import NamedTuple


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
        bad = data[error.start:error.start + 1].decode("cp1252", "replace")
        return Problem("not-utf-8", line, bad, f"not UTF-8 text (a byte that CP1252 shows as {bad})",
                       "save the file as UTF-8")


def records(text: str) -> list[tuple[int, list[str]]]:
    """CSV records with the line each starts on; raises csv.Error for a cell too large or badly quoted."""
    reader = csv.reader(io.StringIO(text, newline=""))
    found, line = [], 1
    for cells in reader:
        found.append((line, cells))
        line = reader.line_num + 1
    return found


def hint(word: str, known: Iterable[str], otherwise: str) -> str:
    """`did you mean ...?` with the nearest of the known words, or what else to do."""
    near = get_close_matches(word, list(known), 1, 0.5)
    return f"did you mean {near[0]}?" if near else otherwise


def write_whole(path: Path, data: bytes, *, force: bool = False) -> None:
    """Write a file whole or not at all; raises FileExistsError where it is there and `force` is not set."""
    if path.exists() and not force:
        raise FileExistsError(errno.EEXIST, "is there already: give --force to write over it", str(path))
    fresh = path.with_name(f".{path.name}.{os.getpid()}.new")
    try:
        fresh.write_bytes(data)
        fresh.replace(path)
    finally:
        fresh.unlink(missing_ok=True)
