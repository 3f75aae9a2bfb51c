"""The page that text is printed on: width, colour on a terminal, columns, and text safe to print."""

import os
import shutil
import sys
import unicodedata
from collections.abc import Sequence
from itertools import zip_longest

CAUTIONS = (
    "These chassis hold lethal voltage, also after the plug is out: discharge every capacitor and measure before "
    "you touch. Sets without a power transformer have a live chassis: use an isolating transformer. A series lamp "
    "limits current, it does not isolate. These figures are aids: the maker's documents, local codes and a qualified "
    "person come first.")
_COLOURS = {"stop": "1;31", "unknown": "1;35", "caution": "1;33", "pass": "32", "head": "1", "quiet": "2"}
PIPED, LEAST, MOST = 80, 40, 110
"""Columns where no terminal says its width; the narrowest page; and what the eye still follows from line to line."""
_UNITS = frozenset(("V", "mV", "kV", "A", "mA", "µA", "mA/V", "W", "J", "H", "ohm", "kohm", "Mohm", "Ω", "kΩ", "MΩ",
                    "µF", "nF", "pF", "s", "h", "min", "Hz", "%", "more"))
"""Words that stay on the line of the number before them."""
LEAST_CELL = 8
"""Columns a table's cell is never made narrower than."""


def coloured() -> bool:
    """Whether standard output is a terminal that wants colour (NO_COLOR is honoured)."""
    return sys.stdout.isatty() and not os.environ.get("NO_COLOR")


def paint(text: str, tone: str) -> str:
    return f"\033[{_COLOURS[tone]}m{text}\033[0m" if coloured() else text


def width() -> int:
    """Columns of the page: the terminal's, 80 in a pipe or file."""
    return min(max(shutil.get_terminal_size((PIPED, 24)).columns, LEAST), MOST)


_FIRST_MARK = "\u0300"
"""Before it in Unicode every sign takes one column."""


def columns(text: str) -> int:
    """Columns of a terminal that the text takes: two for a full-width sign, none for a mark over another."""
    if text.isascii():
        return len(text)
    odd = [c for c in text if c >= _FIRST_MARK]
    return len(text) + sum(-1 if unicodedata.combining(c) else unicodedata.east_asian_width(c) in "WF" for c in odd)


def wrapped(text: str, indent: int = 0, first: str = "") -> str:
    """`text` filled to the page, later lines indented; `first` stands before the first line."""
    rows = filled(text, width() - indent, width() - columns(first))
    return "\n".join((first if i == 0 else " " * indent) + row for i, row in enumerate(rows))


def filled(text: str, room: int, first: int | None = None) -> list[str]:
    """The words of `text` in lines of `room` columns, the first of `first`; only a word too long for one is broken.

    A number and its unit are one word.
    """
    rows, left = [""], room if first is None else first
    if left < min(LEAST_CELL, room):
        rows, left = ["", ""], room
    for word in _words(clean(text)):
        gap = 1 if rows[-1] else 0
        if columns(word) + gap > left and rows[-1]:
            rows.append("")
            left, gap = room, 0
        while columns(word) > left:
            head = word[:max(left // 2 if not word.isascii() else left, 1)]
            rows[-1] += head
            rows.append("")
            word, left = word[len(head):], room
        rows[-1] += " " * gap + word
        left -= columns(word) + gap
    return rows


def _words(text: str) -> list[str]:
    words: list[str] = []
    for word in text.split():
        if words and word.rstrip(".,;:)") in _UNITS and words[-1].lstrip("(-±").replace(".", "", 1).isdecimal():
            words[-1] += " " + word
        else:
            words.append(word)
    return words


def table(rows: Sequence[tuple[str, ...]], indent: int = 2) -> str:
    """Rows in columns as wide as their longest cell; where the page is too narrow the widest cells are folded."""
    cells = [[clean(cell) for cell in row] for row in rows]
    widths = [max(columns(row[i]) for row in cells) for i in range(len(cells[0]))]
    room = width() - indent - 2 * sum(1 for w in widths[1:] if w)
    while sum(widths) > room and max(widths) > LEAST_CELL:
        widest = max(range(len(widths)), key=widths.__getitem__)
        others = sorted(widths)[-2] if len(widths) > 1 else 0
        widths[widest] = max(room - (sum(widths) - widths[widest]), min(others, widths[widest] - 1), LEAST_CELL)
    return "\n".join(line for row in cells for line in _row(row, widths, indent))


def _row(cells: list[str], widths: list[int], indent: int) -> list[str]:
    """The lines of one row, its cells folded to `widths`; a column without a word takes no room."""
    folded = [filled(cell, w) if columns(cell) > w else [cell] for cell, w in zip(cells, widths, strict=True)]
    return [" " * indent + "  ".join(part + " " * (w - columns(part)) for part, w in zip(line, widths, strict=True)
                                     if w).rstrip() for line in zip_longest(*folded, fillvalue="")]


def short(text: str, most: int = 30) -> str:
    """The text in at most so many columns, cut with `...` where it must be."""
    text = clean(text)
    if columns(text) <= most:
        return text
    while columns(text) > most - 3:
        text = text[:-1]
    return text + "..."


def clean(text: str) -> str:
    """The text on one line, without characters that would move a terminal's cursor or turn the reading direction."""
    return text if text.isprintable() else "".join(c if c.isprintable() else " " if c in "\n\t" else "�" for c in text)
