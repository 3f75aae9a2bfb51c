"""Parts that no check judges: each with the reason, or folded into one line for each reason."""

from pipeline.checks.check import Checked
from pipeline.output.page import paint, short, table, wrapped

MOST_NAMED = 6
"""Refs that a folded line names; of the others only the count is given."""


def unjudged(checked: Checked, everything: bool) -> str:
    """The section NOT JUDGED of the report; nothing where every part has a finding."""
    found = rows(checked)
    if not found:
        return ""
    head = paint("NOT JUDGED", "head")
    if everything:
        lines = []
        for row in found:
            lines.append(wrapped(_said(row), 8, f"  {short(row['ref'], 20):<5} "))
            if row["do"]:
                lines.append(wrapped(row["do"], 10, " " * 8 + "→ "))
        return "\n".join([head, *lines])
    groups: dict[tuple[str, str], list[str]] = {}
    for row in found:
        groups.setdefault((row["why"], row["do"]), []).append(row["ref"])
    folded = [(_refs(refs), why + (f" → {do}" if do else "")) for (why, do), refs in groups.items()]
    return head + "\n" + table(folded)


def rows(checked: Checked) -> list[dict[str, str]]:
    """ref, marking, why and do of each part, or stage of a tube, that is not judged."""
    return [row._asdict() for row in checked.not_judged]


def _said(row: dict[str, str]) -> str:
    return f"({short(row['marking'])}) {row['why']}" if row["marking"] else row["why"]


def _refs(refs: list[str]) -> str:
    more = len(refs) - MOST_NAMED
    return ", ".join(refs[:MOST_NAMED]) + (f" and {more} more" if more > 0 else "")
