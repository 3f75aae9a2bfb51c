"""The order: the lines of one unit or several merged, and what keeps it from being a checked one."""

import math
import re
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any, NamedTuple

from pipeline.bench.care import aids_for, care_of
from pipeline.bench.closing import Closed, close, named_in
from pipeline.bench.due import aid_line
from pipeline.bench.parts import COUNTERS, DEPTHS, Leave, Replacement
from pipeline.bench.replacements import USUAL_DEPTH
from pipeline.catalogue import EVIDENCE, Catalogue
from pipeline.checks.check import Checked
from pipeline.records import OpenRecord, Record, field, replace

MOST_SPARES_PCT = 500.0
_GRAVITY = ("pass", "caution", "unknown", "stop")


class Blocked(NamedTuple):
    """Something that must be settled before the order counts as checked."""

    unit: str
    subject: str
    verdict: str
    why: str
    do: str = ""


class Line(Record):
    """Like parts on one line: how many in all, spares included, and every place they go to."""

    part: Replacement
    quantity: int
    spares: int
    refs: tuple[str, ...]
    verdict: str
    evidence: str
    why: tuple[str, ...]
    notes: tuple[str, ...] = ()
    markings: tuple[str, ...] = ()


class Order(OpenRecord):
    """A merged order; `blocked` is empty where it is a checked one."""

    units: list[str]
    depth: str
    spares_pct: float
    lines: list[Line] = field(default_factory=list)
    leave: list[tuple[str, Leave]] = field(default_factory=list)
    out: list[tuple[str, Leave]] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    blocked: list[Blocked] = field(default_factory=list)
    recalled: list[Any] = field(default_factory=list)
    closed: list[Closed] = field(default_factory=list)


def read_spares(text: str) -> float:
    """Percent of spares from `10%` or `10`; raises ValueError saying what is wrong."""
    found = re.fullmatch(r"\s*(\d{1,3}(?:[.,]\d+)?)\s*%?\s*", text)
    percent = float(found[1].replace(",", ".")) if found else math.nan
    if not 0 <= percent <= MOST_SPARES_PCT:
        raise ValueError(f"{text[:20]!r} is no share of spares: write 10% (0 to {MOST_SPARES_PCT:g} %)")
    return percent


def labels(folders: list[Path]) -> list[str]:
    """A short name for each unit folder, longer where two are alike; raises ValueError for one given twice."""
    resolved = [f.resolve() for f in folders]
    for i, folder in enumerate(resolved):
        if folder in resolved[:i]:
            raise ValueError(f"{folders[i]}: given twice: name each unit once")
    names = [f.name for f in resolved]
    return [f"{f.parent.name}/{f.name}" if names.count(f.name) > 1 else f.name for f in resolved]


def make_order(units: list[tuple[str, Checked]], catalogue: Catalogue, depth: str = USUAL_DEPTH,
               spares_pct: float = 0.0) -> Order:
    """The order for labelled, checked units; raises ValueError for an unknown depth."""
    order = Order([name for name, _ in units], depth, spares_pct)
    lines: list[tuple[str, Replacement]] = []
    care = []
    for name, checked in units:
        closed = close(checked, catalogue, depth)
        advice = closed.advice
        label = f"{name}:" if len(units) > 1 else ""
        lines += [(f"{label}{line.ref}", line) for line in advice.buy]
        care += [replace(row, ref=f"{label}{row.ref}") for row in care_of(checked.unit, catalogue)]
        order.leave += [(f"{label}{x.ref}", x) for x in advice.leave]
        order.out += [(f"{label}{x.ref}", x) for x in advice.out]
        order.notes += [f"{label[:-1] + ': ' if label else ''}{note}" for note in advice.notes]
        order.blocked += blocked(name, closed)
        order.recalled += checked.recalled
        order.closed.append(closed)
    order.lines = merged(lines, spares_pct)
    if depth != DEPTHS[0]:
        order.lines += [Line(aid_line(aid), 1, 0, aid.refs, "pass", aid.evidence, (aid_line(aid).why,))
                        for aid in aids_for(care, catalogue)]
    order.lines.sort(key=lambda line: COUNTERS.index(line.part.counter))
    return order


def blocked(name: str, closed: Closed) -> Iterator[Blocked]:
    """What keeps the order from being a checked one.

    Lines that cannot be ordered, stops that remain once all is fitted, and what stays unknown of a part on the list.
    What is only not judged, or unknown of parts that stay, holds nothing up.
    """
    named = set()
    stopped = {found.subject for found in closed.after.findings if found.verdict == "stop"}
    for line in closed.advice.buy:
        if line.verdict in ("stop", "unknown"):
            named.add(line.ref)
            yield Blocked(name, line.ref, "stop" if line.ref in stopped else line.verdict, line.why)
    for found in closed.after.findings:
        of_list = found.verdict == "unknown" and closed.replaced & named_in(found, closed.after.unit)
        if (found.verdict == "stop" or of_list) and found.subject not in named:
            yield Blocked(name, found.subject, found.verdict, found.why, found.do)


def merged(lines: list[tuple[str, Replacement]], spares_pct: float) -> list[Line]:
    """Like lines joined, in the order of first appearance, capacitors of one kind by value; spares added to each."""
    groups: dict[tuple, list[tuple[str, Replacement]]] = {}
    for ref, line in lines:
        groups.setdefault(_key(ref, line), []).append((ref, line))
    return [_joined(group, spares_pct) for _, group in sorted(groups.items(), key=lambda g: _rank(g[1][0][1]))]


def _key(ref: str, line: Replacement) -> tuple:
    if line.verdict == "unknown":
        return (ref,)
    return (line.kind, line.words, line.type, line.value, line.unit, line.volts, line.watts, line.safety_class,
            line.speed, line.size, line.standard, line.lead_style)


def _rank(line: Replacement) -> tuple:
    return (line.verdict == "unknown", line.kind or "", line.value or 0.0, line.volts or 0.0, line.watts or 0.0)


def _joined(group: list[tuple[str, Replacement]], spares_pct: float) -> Line:
    parts = [line for _, line in group]
    needed = sum(line.quantity for line in parts)
    spares = math.ceil(needed * spares_pct / 100 - 1e-9) if parts[0].verdict != "unknown" else 0
    ripple = max((line.ripple_a for line in parts if line.ripple_a), default=None)
    return Line(
        replace(parts[0], ripple_a=ripple), needed + spares, spares, tuple(_counted(ref, line) for ref, line in group),
        max((line.verdict for line in parts), key=_GRAVITY.index),
        max((line.evidence for line in parts), key=EVIDENCE.index),
        _together((ref, line.why) for ref, line in group),
        (*(f"{ref}: {line.quantity} {line.arrangement}" for ref, line in group if line.arrangement),
         *_together((ref, line.note) for ref, line in group if line.note)),
        tuple(dict.fromkeys(line.marking for line in parts)))


def _together(told: Iterable[tuple[str, str]]) -> tuple[str, ...]:
    """What is said of each place; places of which the very same is said stand together."""
    said: dict[str, list[str]] = {}
    for ref, words in told:
        said.setdefault(words, []).append(ref)
    return tuple(f"{', '.join(refs)}: {words}" for words, refs in said.items())


def _counted(ref: str, line: Replacement) -> str:
    """The ref, and how many go there where it is more than one."""
    return ref if line.quantity == 1 else f"{ref} x{line.quantity}"
