"""Rows as JSON or CSV on standard output."""

import csv
import io
import sys
from collections.abc import Iterable
from typing import Any


def as_json(value: Any) -> str:
    """Readable JSON, letters as they are where standard output can show them all."""
    import json  # text needs none of it

    return json.dumps(value, indent=2, ensure_ascii=in_ascii(), allow_nan=False) + "\n"


def in_ascii() -> bool:
    """Whether standard output has a code page that lacks letters: JSON can then say each of them exactly in ASCII."""
    return not (getattr(sys.stdout, "encoding", None) or "utf-8").lower().replace("-", "").startswith("utf")


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
        from pipeline.output.safe import defused  # text and JSON need none of it

        return defused(value)
    return "" if value is None else value
