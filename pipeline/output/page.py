"""The page that text is printed on: width, colour on a terminal, columns, and text safe to print."""

import os
import shutil
import sys
import textwrap
from collections.abc import Sequence

CAUTIONS = (
    "These chassis hold lethal voltage, also after the plug is out: discharge every capacitor and measure before "
    "you touch. Sets without a power transformer have a live chassis: use an isolating transformer. A series lamp "
    "limits current, it does not isolate. These figures are aids: the maker's documents, local codes and a qualified "
    "person come first.")
_COLOURS = {"stop": "1;31", "unknown": "1;35", "caution": "1;33", "pass": "32", "head": "1"}


def coloured() -> bool:
    """Whether standard output is a terminal that wants colour (NO_COLOR is honoured)."""
    return sys.stdout.isatty() and not os.environ.get("NO_COLOR")


def paint(text: str, tone: str) -> str:
    return f"\033[{_COLOURS[tone]}m{text}\033[0m" if coloured() else text


def width() -> int:
    return min(max(shutil.get_terminal_size((100, 24)).columns, 60), 110)


def wrapped(text: str, indent: int = 0, first: str = "") -> str:
    """`text` filled to the page, later lines indented; `first` stands before the first line."""
    return textwrap.fill(text, width(), initial_indent=first, subsequent_indent=" " * indent,
                         break_long_words=False, break_on_hyphens=False)


def table(rows: Sequence[tuple[str, ...]], indent: int = 2) -> str:
    """Rows in columns as wide as their longest cell."""
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    return "\n".join(" " * indent + "  ".join(c.ljust(w) for c, w in zip(row, widths, strict=True)).rstrip()
                     for row in rows)


def short(text: str) -> str:
    text = clean(text)
    return text if len(text) <= 30 else text[:27] + "..."


def clean(text: str) -> str:
    """The text without characters that would move a terminal's cursor."""
    return "".join(c if c.isprintable() or c == "\n" else "�" for c in text)
