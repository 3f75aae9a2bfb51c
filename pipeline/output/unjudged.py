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
    groups: dict[tuple[str, ...], list[dict[str, str]]] = {}
    for row in found:  # what differs in the part's own name only is one reason
        groups.setdefault(tuple(row[name].replace(row["ref"], "\0") for name in ("why", "do")), []).append(row)
    return head + "\n" + table([(_refs([row["ref"] for row in group]), _folded(group)) for group in groups.values()])


def _folded(group: list[dict[str, str]]) -> str:
    """The reason and the advice for the first of some parts, which hold for the others in their place."""
    first = group[0]
    others = " Likewise the others." if len(group) > 1 and first["ref"] in first["why"] + first["do"] else ""
    return _sentence(first["why"]) + (f" → {first['do']}" if first["do"] else "") + others


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:] + ("" if text.endswith((".", "?")) else ".")


def rows(checked: Checked) -> list[dict[str, str]]:
    """ref, marking, why and do of each part, or stage of a tube, that is not judged."""
    return [row._asdict() for row in checked.not_judged]


def _said(row: dict[str, str]) -> str:
    return f"({short(row['marking'])}) {_sentence(row['why'])}" if row["marking"] else _sentence(row["why"])


def _refs(refs: list[str]) -> str:
    more = len(refs) - MOST_NAMED
    return ", ".join(refs[:MOST_NAMED]) + (f" and {more} more" if more > 0 else "")
