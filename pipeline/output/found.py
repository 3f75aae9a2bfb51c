"""What `find` prints."""

from typing import Any

from pipeline.output.page import columns, paint, short, table, width
from pipeline.output.tables import as_csv, as_json

COLUMNS = ["type", "function", "base", "heater_v", "heater_a", "plate_max_v", "plate_dissipation_max_w", "names",
           "evidence", "distance"]
MOST_SHOWN = 40
LEAST_NAMES = 14
"""Columns below which the other names are left out: one would not stand whole."""


def print_found(rows: list[dict[str, Any]], format: str) -> None:
    """Print the types found, the nearest first; the text shows at most forty and says how many more."""
    if format == "json":
        print(as_json(rows), end="")
    elif format == "csv":
        print(as_csv(rows, COLUMNS), end="")
    elif not rows:
        print("no type in the catalogue matches")
    else:
        lines = [("type", "function", "base", "heater", "plate", "other names"), *map(_line, rows[:MOST_SHOWN])]
        room = width() - 2 - sum(2 + max(columns(line[i]) for line in lines) for i in range(5))
        head, *rest = table([line[:5] if room < LEAST_NAMES else (*line[:5], short(line[5], room))
                             for line in lines]).splitlines()
        print("\n".join([paint(head, "head"), *rest]))
        if len(rows) > MOST_SHOWN:
            print(f"  and {len(rows) - MOST_SHOWN} more: narrow the search, or use --format csv")


def _line(row: dict[str, Any]) -> tuple[str, ...]:
    heater = " ".join(x for x in (_of(row["heater_v"], "V"), _of(row["heater_a"], "A")) if x)
    plate = " ".join(x for x in (_of(row["plate_max_v"], "V"), _of(row["plate_dissipation_max_w"], "W")) if x)
    return row["type"], row["function"] or "", row["base"] or "", heater, plate, row["names"] or ""


def _of(value: float | None, unit: str) -> str:
    return "" if value is None else f"{value:g} {unit}"
