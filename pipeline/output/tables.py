"""Rows as JSON or CSV on standard output."""

import csv
import io
from collections.abc import Iterable
from typing import Any

from pipeline.output.safe import defused


def as_json(value: Any) -> str:
    """Readable JSON, letters as they are."""
    import json  # text needs none of it

    return json.dumps(value, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def as_csv(rows: Iterable[dict[str, Any]], columns: list[str]) -> str:
    """Rows as CSV under `columns`; lists joined by `; `, cells a spreadsheet would run as a formula defused."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(columns)
    for row in rows:
        writer.writerow([_cell(row.get(name)) for name in columns])
    return out.getvalue()


def _cell(value: Any) -> Any:
    if isinstance(value, list):
        value = "; ".join(str(v) for v in value)
    if isinstance(value, str):
        return defused(value)
    return "" if value is None else value
