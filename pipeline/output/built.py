"""What a build says: what changed, or every fault."""

from collections.abc import Sequence
from typing import Any

MOST_SHOWN = 50


def faults(found: Sequence) -> str:
    """The faults a line each, the first fifty, then how many more."""
    lines = [str(f) for f in found[:MOST_SHOWN]]
    if len(found) > MOST_SHOWN:
        lines.append(f"and {len(found) - MOST_SHOWN} more faults")
    count = "1 fault" if len(found) == 1 else f"{len(found)} faults"
    return "\n".join([*lines, f"{count}; the catalogue was left as it was"])


def changes(done: Sequence, check: bool) -> str:
    """Which tables changed, with their row counts and what about them; one line where none did."""
    changed = [c for c in done if c.changed]
    if not changed:
        return f"the catalogue is current: {len(done)} tables, {sum(c.rows for c in done)} rows\n"
    lines = ["the catalogue is out of date: run `tubewright build`" if check else "the catalogue was built"]
    return "\n".join([*lines, *(f"  {c.table:<22} {_what(c)}" for c in changed)]) + "\n"


def _what(change: Any) -> str:
    told = {"description": "its description changed", "damaged": "its bytes were not those that were built",
            "missing": "its file was missing", "gone": f"{change.rows_before} rows, no longer built",
            "new": f"{change.rows:>6} rows (new)", "rows": f"{change.rows:>6} rows (was {change.rows_before})"}
    return told[change.what]
