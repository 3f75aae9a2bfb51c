"""What a build says: what changed, or every fault."""

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

from pipeline.output.page import clean
from pipeline.output.tables import as_csv, as_json

MOST_SHOWN = 50
FAULT_COLUMNS = ["file", "line", "column", "value", "rule", "what", "mend", "means"]
CHANGE_COLUMNS = ["table", "rows_before", "rows", "what"]


def faults(found: Sequence) -> str:
    """The faults a line each, the first fifty, then how many more."""
    lines = [str(f) for f in found[:MOST_SHOWN]]
    if len(found) > MOST_SHOWN:
        lines.append(f"and {len(found) - MOST_SHOWN} more faults")
    count = "1 fault" if len(found) == 1 else f"{len(found)} faults"
    return "\n".join([*lines, f"{count}; the catalogue was left as it was"])


def faults_as(found: Sequence, format: str, rules: Mapping[str, str]) -> str:
    """All faults as JSON or CSV, each with what `rules` says of its rule; as text, see `faults`.

    JSON: `count`, and `faults`, a list of file, line, column, value, rule, what, mend, means.
    """
    rows = [{key: getattr(f, key) for key in FAULT_COLUMNS[:-1]} | {"means": rules[f.rule]} for f in found]
    if format == "json":
        return as_json({"count": len(rows), "faults": rows})
    if format == "csv":  # a bare dash would be taken for the start of a formula
        return as_csv([row | {"column": row["column"].removeprefix("-")} for row in rows], FAULT_COLUMNS)
    return faults(found) + "\n"


def changes_as(done: Sequence, format: str, check: bool, asked: Sequence[Mapping[str, Any]] = ()) -> str:
    """What a build changed as JSON or CSV: each table, its rows before and now, what about it; as text, see `changes`.

    JSON: `changed`, `tables`, a list of table, rows_before, rows, what, and `questions`, the rows of that table in
    `asked`: what the figures leave open. Text counts them.
    """
    rows = [{key: getattr(c, key) for key in CHANGE_COLUMNS} for c in done]
    if format == "json":
        return as_json({"changed": any(c.changed for c in done), "tables": rows, "questions": list(asked)})
    return as_csv(rows, CHANGE_COLUMNS) if format == "csv" else changes(done, check) + questions(asked)


def questions(asked: Sequence[Mapping[str, Any]]) -> str:
    """How many questions of each rule the figures leave open, in one line; nothing where there are none."""
    counts = Counter(str(row["rule"]) for row in asked)
    said = ", ".join(f"{count} {rule}" for rule, count in sorted(counts.items()))
    return f"left open, in the table questions: {said}\n" if said else ""


def changes(done: Sequence, check: bool) -> str:
    """Which tables changed, with their row counts and what about them; one line where none did."""
    changed = [c for c in done if c.changed]
    if not changed:
        return f"the catalogue is current: {len(done)} tables, {sum(c.rows for c in done)} rows\n"
    lines = ["the catalogue is out of date: run `tubewright build`" if check else "the catalogue was built"]
    return "\n".join([*lines, *(f"  {clean(c.table):<22} {_what(c)}" for c in changed)]) + "\n"


def _what(change: Any) -> str:
    told = {"description": "its description changed", "damaged": "its bytes were not those that were built",
            "missing": "its file was missing", "gone": f"{change.rows_before} rows, no longer built",
            "new": f"{change.rows:>6} rows (new)", "rows": f"{change.rows:>6} rows (was {change.rows_before})"}
    return told[change.what]
