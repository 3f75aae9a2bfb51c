"""What to do about the parts of a unit that are more than a value, as `check` tells it: short, or with all words."""

from collections.abc import Sequence

from pipeline.bench.care import Care
from pipeline.output.page import paint, table, wrapped

MOST_NAMED = 6
"""Refs that a line names; of the others only the count is given."""


def caring(care: Sequence[Care], everything: bool) -> str:
    """The section CARE of the report: one line a kind, with what must never be done; all of it with `everything`."""
    if not care:
        return ""
    head = paint("CARE", "head")
    if everything:
        return "\n".join([head, *_whole(care)])
    rows = []
    for kind in dict.fromkeys(row.kind for row in care):
        of_kind = [row for row in care if row.kind == kind]
        tasks = ", ".join(dict.fromkeys(row.task + (" now" if row.due else "") for row in of_kind
                                        if row.due or row.task != "replace"))
        own = dict.fromkeys(f"{row.ref}: {row.own}" for row in of_kind if row.own and row.due)
        said = ". ".join(x for x in (f"{kind}: {tasks or 'look it over'}", *own, _never(of_kind)) if x)
        rows.append((_refs(list(dict.fromkeys(row.ref for row in of_kind))), f"{said}."))
    return "\n".join([head, table(rows), wrapped("--all says how, and with what.", 2, "  ")])


def _never(care: Sequence[Care]) -> str:
    """What must not be done to such parts, each once."""
    words = "; ".join(dict.fromkeys(row.never for row in care if row.never))
    return words[:1].upper() + words[1:]


def _whole(care: Sequence[Care]) -> list[str]:
    """Every piece of advice, alike ones of several parts together."""
    groups: dict[tuple, list[Care]] = {}
    for row in care:
        groups.setdefault((row.kind, row.task, row.how, row.own, row.due), []).append(row)
    lines = []
    for rows in groups.values():
        first = rows[0]
        said = [f"{first.task}{' now' if first.due else ''}: {first.how}", first.own,
                f"with {', '.join(first.uses)}" if first.uses else "", f"expect {first.expect}" if first.expect else "",
                f"never: {first.never}" if first.never else ""]
        lines.append(wrapped(f"{_refs([row.ref for row in rows])}  {'; '.join(x for x in said if x)}.", 8, "  "))
    return lines


def _refs(refs: list[str]) -> str:
    more = len(refs) - MOST_NAMED
    return ", ".join(refs[:MOST_NAMED]) + (f" and {more} more" if more > 0 else "")
