"""What changed between two catalogues, as a page and as a feed."""

from collections import defaultdict
from typing import Any, NamedTuple

from pipeline.output.pages.known import Known, natural
from pipeline.output.pages.wording import amount

MOST_LETTERS = 50_000
"""Letters of changes that are said on the page; types beyond are counted."""
MOST_LINES = 12
"""Changes of one type named one by one."""
FIGURES = "figures"
"""The table in which every change of the others stands again."""


class Changed(NamedTuple):
    """What changed about one type (or table, where it is of no tube): a line each, and how many more."""

    subject: str
    is_tube: bool
    lines: list[str]
    more: int


class Changes(NamedTuple):
    """All of it: the two versions, the step they ask for, what changed by type, what changed in the tables, the day."""

    old_version: str
    new_version: str
    step: str
    types: list[Changed]
    tables: list[Changed]
    more: int
    day: str


def changes(known: Known, history: Any, day: str) -> Changes:
    """A `pipeline.build.history.History` by type; `day` is that of the newer catalogue, as 2026-11-28."""
    of_types: dict[str, list[str]] = defaultdict(list)
    of_tables: dict[str, list[str]] = defaultdict(list)
    for change in history.changes:
        if change.table == FIGURES and change.kind in ("value", "row added", "row removed"):
            continue
        type_ = _type_of(known, change)
        if type_ and change.table in known.of_tubes:
            of_types[type_].append(_line(known, change, type_))
        else:
            of_tables[change.table].append(_table_line(change))
    types = [_changed(name, True, lines) for name, lines in sorted(of_types.items(), key=lambda i: natural(i[0]))]
    tables = [_changed(name, False, lines) for name, lines in of_tables.items()]
    shown = _first(types)
    return Changes(history.old_version, history.new_version, history.step, shown, tables, len(types) - len(shown), day)


def _first(types: list[Changed]) -> list[Changed]:
    """As many types as the page has room for."""
    room = MOST_LETTERS
    for count, one in enumerate(types):
        room -= sum(map(len, one.lines)) + 100
        if room < 0:
            return types[:count]
    return types


def _type_of(known: Known, change: Any) -> str | None:
    """The tube a change is about: the longest type that the subject begins with; of a name, the type behind it."""
    parts = change.subject.split("/")
    if change.table == "designations":
        parts = parts[1:]
    for count in range(len(parts), 0, -1):
        if "/".join(parts[:count]) in known.tubes:
            return "/".join(parts[:count])
    return None


def _changed(subject: str, is_tube: bool, lines: list[str]) -> Changed:
    lines = list(dict.fromkeys(lines))
    return Changed(subject, is_tube, lines[:MOST_LINES], max(len(lines) - MOST_LINES, 0))


def _line(known: Known, change: Any, type_: str) -> str:
    """One change in words: `heater current: 0.3 A, was 0.35 A (why)`."""
    title = known.resources.get(change.table, {}).get("title", change.table).lower()
    part = change.subject[len(type_) + 1:] if change.subject.startswith(f"{type_}/") else \
        change.subject.removesuffix(f"/{type_}") if change.table == "designations" else ""
    place = f"{title} {part}".strip().replace("/", ", ")
    if change.kind != "value":
        return f"{place}: {change.kind}"
    unit = known.unit(change.table, change.column)
    new, old = (amount(change.column, value, unit) or "not known" for value in (change.new, change.old))
    why = f" ({change.why})" if change.why else ""
    return f"{known.label(change.table, change.column)}{f' ({place})' if part else ''}: {new}, was {old}{why}"


def _table_line(change: Any) -> str:
    if change.kind == "value":
        return f"{change.subject}: {change.column}: {_shown(change.new)}, was {_shown(change.old)}"
    sides = " to ".join(str(x) for x in (change.old, change.new) if x is not None)
    return " ".join(x for x in (change.subject, f"{change.kind}:" if change.column or sides else change.kind,
                                change.column, sides) if x)


def _shown(value: Any) -> str:
    return "empty" if value is None else f"{value:g}" if isinstance(value, float) else str(value)
