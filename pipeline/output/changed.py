"""What changed between two built catalogues, in each format."""

from typing import Any

from pipeline.output.page import clean
from pipeline.output.tables import as_csv, as_json
from schemas.tables import TABLES

COLUMNS = ["kind", "table", "subject", "column", "old", "new", "why"]
MOST_ROWS = 8
"""Rows added to or removed from one table that are named one by one."""


def print_changes(history: Any, format: str) -> None:
    """Print a `pipeline.build.history.History`."""
    rows = [change._asdict() for change in history.changes]
    if format == "json":
        print(as_json({"old_version": history.old_version, "new_version": history.new_version, "step": history.step,
                       "version_fits": history.version_fits, "changes": rows}), end="")
    elif format == "csv":
        print(as_csv(rows, COLUMNS), end="")
    else:
        print("\n".join(_lines(history)))


def print_release(rows: list[dict[str, Any]]) -> None:
    """Print a change list as the raw table `releases` holds it."""
    print(as_csv(rows, list(TABLES["releases"].columns)), end="")


def _lines(history: Any) -> list[str]:
    lines = []
    told = {f"{c.table}/{c.subject}/{c.column}" for c in history.changes}
    for change in history.changes:
        if change.table == "figures" and _is_told(change.subject, told):
            continue  # the same change stands in the wide table
        if change.kind == "value":
            why = f"  ({clean(change.why)})" if change.why else ""
            lines.append(f"{change.table} {clean(change.subject)}: {change.column}: {_shown(change.old)} -> "
                         f"{_shown(change.new)}{why}")
        elif not change.kind.startswith("row"):
            sides = " -> ".join(str(x) for x in (change.old, change.new) if x is not None)
            lines.append(f"{change.table}: {change.kind}: {change.column} {sides}".replace(":  ", ": "))
    lines += _counted(history)
    asked = {"none": "nothing changed", "patch": "a patch", "minor": "a minor step", "major": "a major step"}
    lines.append(f"version {history.old_version} -> {history.new_version}; the changes ask for "
                 f"{asked[history.step]}" if history.changes else asked["none"])
    return lines


def _is_told(figure: str, told: set[str]) -> bool:
    """Whether a figure's own key, table/subject/quantity/source..., begins with a cell that is told already."""
    parts = figure.split("/")
    return any("/".join(parts[:count]) in told for count in range(3, len(parts)))


def _counted(history: Any) -> list[str]:
    """Rows added and removed: named where they are few, else counted."""
    groups: dict[tuple[str, str], list[str]] = {}
    for change in history.changes:
        if change.kind.startswith("row"):
            groups.setdefault((change.table, change.kind), []).append(change.subject)
    return [f"{table}: {len(subjects)} {kind.replace('row', 'row' if len(subjects) == 1 else 'rows')}"
            + (": " + ", ".join(clean(s) for s in subjects) if len(subjects) <= MOST_ROWS else "")
            for (table, kind), subjects in groups.items()]


def _shown(value: Any) -> str:
    return "empty" if value is None else f"{value:g}" if isinstance(value, float) else clean(str(value))
