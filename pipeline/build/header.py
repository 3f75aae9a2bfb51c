"""Rules over the header of a raw file: the table's columns, each once, in their order.

A column that is misspelled is one fault, not an unknown column and a missing one.
"""

from collections.abc import Iterator
from difflib import get_close_matches
from itertools import takewhile

from pipeline.build.faults import Fault
from schemas.tables import Table


def header_faults(header: list[str], file: str, line: int, table: Table) -> list[Fault]:
    """What is wrong with a header; empty where it is the table's own."""
    if tuple(header) == table.columns:
        return []
    whole = _of_the_whole(header, file, line, table)
    return [whole] if whole else list(_of_columns(header, file, line, table)) or [
        Fault("column-order", file, line, "-", ",".join(header), "the columns stand in another order", _must(table))]


def _must(table: Table) -> str:
    return "the header must be " + ",".join(table.columns)


def _of_the_whole(header: list[str], file: str, line: int, table: Table) -> Fault | None:
    """The one fault of a line that is no header of commas and words."""
    for rule, mark, word in (("semicolons", ";", "semicolons"), ("tabs", "\t", "tabs")):
        if mark in header[0] and len(header) < 3:
            return Fault(rule, file, line, "-", ",".join(header), f"the cells are parted by {word}",
                         "save it as comma-separated CSV")
    if not {cell.strip().lower() for cell in header} & set(table.columns):
        return Fault("header-missing", file, line, "-", ",".join(header), f"no header of {table.name}", _must(table))
    empty = len(list(takewhile(lambda cell: not cell, reversed(header))))
    if empty and len(header) > len(table.columns):
        return Fault("columns-empty", file, line, "-", ",".join(header), f"{empty} columns without a name at the end",
                     "delete the empty columns, in every row")
    return None


def _of_columns(header: list[str], file: str, line: int, table: Table) -> Iterator[Fault]:
    """Columns that stand twice, are not known, or are missing; a slip explains what is missing for it."""
    missing = [column for column in table.columns if column not in header]
    for column in dict.fromkeys(header):
        known = column in table.columns
        if known and header.count(column) == 1:
            continue
        meant = _meant(column, header, missing, table)
        if meant:
            missing.remove(meant)
        hint = f"perhaps one of them is {meant}: " if known and meant else f"perhaps {meant}: " if meant else ""
        if known:
            yield Fault("column-twice", file, line, column, column, "this column stands twice", f"{hint}keep one")
        else:
            yield Fault("column-unknown", file, line, column or "-", column, "no such column",
                        f"{hint}the columns are " + ",".join(table.columns))
    for column in missing:
        yield Fault("column-missing", file, line, column, "", "this column is missing", _must(table))


def _meant(column: str, header: list[str], missing: list[str], table: Table) -> str | None:
    """The missing column in whose place this one stands, else the one that is spelled most like it."""
    here = [ours for theirs, ours in zip(header, table.columns, strict=False) if theirs == column and ours in missing]
    return next(iter(here or get_close_matches(column, missing, 1)), None)
