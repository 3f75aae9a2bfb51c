"""What is bought beside electronic parts: belts, cords, wheels and the like that are due, and aids once an order."""

import re
from collections.abc import Iterable, Iterator, Sequence

from pipeline.bench.care import Aid, Care
from pipeline.bench.knowledge import Row
from pipeline.bench.parts import Replacement
from pipeline.checks.check import Checked
from pipeline.checks.findings import Finding
from pipeline.unit import Part

CLEAN_FIRST = ("noisy", "scratchy", "jumps")
"""Faults that cleaning mends as often as not (practice)."""
CORD = "three-wire cord"
EARTHED = "three-wire mains cord with plug and strain relief"
POLARISED = "polarised two-wire mains cord with plug and strain relief"
_EARTHED = r"(?i)\b(?:three|3)[\s-]*(?:wire|core|pin|conductor)|\bearthed\b|\bgrounded\b|3\s*x\s*0[.,]\d"


def due_lines(care: Iterable[Care], buying: set[str], isolated: bool) -> Iterator[Replacement]:
    """A line for each part that is due and not on the list already, where it is known what to ask for.

    `isolated` says whether a transformer parts the chassis from the mains: then a cord has an earth wire.
    """
    for row in care:
        if row.due and row.buy and row.ref not in buying and row.faulty not in CLEAN_FIRST:
            why = f"called {row.faulty}" if row.faulty else f"a {row.kind} is always renewed"
            words = row.buy if row.kind == "belt" or row.marking == "?" else f"{row.buy} (old one: {row.marking})"
            words = (EARTHED if isolated else POLARISED) if row.kind == "cord" else words
            more = f"; {row.own}" if row.own else ""
            yield Replacement(row.ref, row.marking, row.kind, None, "", None, 1, "pass",
                              f"{why}{more}. {_first(row.how)}", row.rests_on, note=_never(row.never), words=words,
                              counter=row.counter or "electronics")


def not_yet(care: Sequence[Care]) -> Iterator[str]:
    """What must be measured or tried before a part that is due is ordered; it does not hold up the rest."""
    yield from (f"{row.ref} is not ordered yet: {row.own}." for row in care if row.due and not row.buy and row.own)
    dirty = ", ".join(row.ref for row in care if row.due and row.faulty in CLEAN_FIRST)
    if dirty:
        yield f"Not ordered yet: {dirty}. Clean first; order a new one where it stays as it is."


def aid_line(aid: Aid) -> Replacement:
    """A fluid or other aid, bought once for the whole order."""
    why = f"{aid.name}: {aid.serves}. {_never(aid.never)}".strip()
    return Replacement(aid.name, "", "aid", None, "", None, 1, "pass", why, aid.rests_on,
                       words=f"{aid.name}, {aid.pack}" if aid.pack else aid.name,
                       counter=aid.counter or "rubber and chemicals")


def earthed_cord(checked: Checked, going: dict[str, Finding], table: dict[str, Row]) -> Replacement | None:
    """A three-wire cord where one should be fitted: in the old cord's place, or where none is in the list."""
    cord = next((p for p in checked.unit.parts.values() if p.kind == "cord"), None)
    if cord is not None and cord.ref not in going and _is_earthed(cord):
        return None
    found = going.get(cord.ref if cord else "") or next(iter(going.values()), None)
    if found is None:
        return None
    row = table.get("cord/replace", {})
    return Replacement(
        cord.ref if cord else CORD, cord.marking if cord else "", "cord", None, "", None, 1, "pass", found.why,
        (*found.rests_on, *row.values()), note=found.do, words=EARTHED,
        counter="mains and hardware")


def _is_earthed(part: Part) -> bool:
    return bool(re.search(_EARTHED, f"{part.marking} {part.note}"))


def _first(how: str) -> str:
    text = how.partition(";")[0].strip()
    return f"{text[:1].upper()}{text[1:]}." if text else ""


def _never(words: str) -> str:
    return f"{words[:1].upper()}{words[1:]}." if words else ""
