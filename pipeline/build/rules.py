"""Every rule a raw row can break: its id and, in one line, what must hold.

Rules that are functions say it in the first line of their docstring; the others, which hang on the reading of a file
or a row as a whole, are listed here.
"""

from collections.abc import Callable, Iterable, Mapping
from typing import Any

from pipeline.build import cells
from pipeline.build.audit import LINKS, WAIVABLE
from pipeline.build.questions import QUESTIONS
from pipeline.textfile import PROBLEMS

FILES = {
    "no-raw-files": "the folder of raw tables holds raw tables",
    "file-stray": "every file that looks like a table is read as one: `.csv`, in the folder of its table",
    **PROBLEMS,
    "csv-broken": "quotation marks are closed, and no text stands behind a closing one",
    "empty-file": "a file holds at least the header of its table",
    "line-ends": "lines end in a bare LF",
    "final-newline": "the last line has an end",
}
HEADERS = {
    "semicolons": "cells are parted by commas, not by semicolons",
    "tabs": "cells are parted by commas, not by tabs",
    "header-missing": "the first line is the table's header",
    "columns-empty": "no columns without a name stand at the end",
    "column-unknown": "every column is one of the table's",
    "column-twice": "every column stands once",
    "column-missing": "no column of the table is missing",
    "column-order": "the columns stand in the table's order",
}
ROWS = {
    "blank-line": "no line is blank",
    "cell-count": "a row has as many cells as the header",
    "decimal-comma": "numbers have a decimal point and no mark between thousands",
    "number-form": "numbers have no leading zeros, no leading point and no plus",
    "not-a-number": "a column of numbers holds numbers, without a unit",
    "cell-missing": "key, source and evidence are given, and what else the table cannot do without",
    "word-unknown": "a column of chosen words holds one of them",
    "out-of-range": "a figure lies in the plausible range of its column",
    "row-twice": "one source says a thing once",
}
RECORDS = {
    "correction-place": "a correction names a table and a column that can be corrected",
    "correction-unused": "a correction is about a row that is there",
    "correction-guard": "a corrected cell still says what the correction says is printed",
    "correction-value": "the corrected value is one that the column can hold",
    "rule-unknown": "a waiver names a rule that can be waived",
    "waiver-unused": "a waiver is needed: without it the rule would find fault with the type",
}


def _said(rules: Mapping[str, Callable[..., Any]]) -> dict[str, str]:
    return {name: _first_sentence(rule.__doc__ or "") for name, rule in rules.items()}


def _first_sentence(text: str) -> str:
    line = " ".join(text.split("\n\n")[0].split()).rstrip(".")
    return line[:1].lower() + line[1:] if line[:2].istitle() else line


GROUPS: dict[str, dict[str, str]] = {
    "Files": FILES, "Headers": HEADERS, "Text of a cell": _said(cells.RULES), "Cells and rows": ROWS,
    "Corrections and waivers": RECORDS, "Between rows, without exception": _said(LINKS),
    "What figures mean; can be waived for a type": _said(WAIVABLE),
}
"""Heading → rule id → what must hold."""

RULES: dict[str, str] = {name: text for group in GROUPS.values() for name, text in group.items()}
"""Rule id → what must hold; a row that breaks one stops the build."""

GROUPS["What the chosen figures leave open; listed in the table questions, stops nothing"] = _said(QUESTIONS)


def handbook() -> Iterable[str]:
    """The rules as lines of Markdown."""
    for heading, group in GROUPS.items():
        yield from (f"### {heading}", "", "| rule | what must hold |", "| --- | --- |")
        yield from (f"| `{name}` | {text.replace('|', chr(92) + '|')} |" for name, text in group.items())
        yield ""
