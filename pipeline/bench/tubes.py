"""Tubes to buy: those that are missing or dead, and the one that belongs where the wrong one stands."""

import re

from pipeline.bench.knowledge import MOST_READ
from pipeline.bench.parts import Leave, Replacement, unknown_line
from pipeline.bench.policy import About
from pipeline.catalogue import Catalogue, Figure
from pipeline.checks.findings import Finding
from pipeline.records import replace
from pipeline.unit import HeaterString, Part, Unit, Winding

DEAD = (
    r"(?i)(?<!not )(?<!nor )\b(?:missing|gone|empty socket|broken|cracked|smashed|dead|burnt(?: out)?|burned out|"
    r"open (?:heater|filament)|(?:heater|filament) open|no emission|low emission|worn(?: out)?|weak|gassy|gas|"
    r"white getter|lost (?:its )?vacuum|shorted|defective|faulty|bad|to be replaced|replace)\b")
"""Words by which a note calls a tube one that goes (practice)."""
_HEATER = ("heater-voltage", "heater-string")
_NUMBERED = r"(\d+)([A-Z]+\d+[A-Z]*)"


def tube_advice(part: Part, unit: Unit, about: About, catalogue: Catalogue) -> Replacement | Leave | None:
    """A new tube for one that is named missing or dead, or the wrong one for its heater; None for a good one."""
    wrong = next((f for f in about.get(part.ref, ()) if f.check in _HEATER and f.verdict == "stop"), None)
    if wrong is not None:
        return _belonging(part, unit, wrong, catalogue)
    word = None if part.is_new else re.search(DEAD, part.said[:MOST_READ])
    if word is None:
        return None
    why = f"its note says {word[0].lower()}"
    if part.kind != "tube" or not (part.ratings or part.reading.type):
        return unknown_line(part.ref, part.marking, "", f"{why}, and its type cannot be read: {_asked(part, unit)}.")
    type_ = part.ratings.type if part.ratings else str(part.reading.type)
    return replace(_line(part, type_, f"{why}.", ()), words=f"tube {part.called}")


def is_socket(part: Part) -> bool:
    """Whether it is a tube, or what by its ref or role must be one although its marking cannot be read."""
    return part.kind == "tube" or (part.kind is None and bool(re.match(r"(?i)v\d", part.ref)))


def _line(part: Part, type_: str, why: str, rests_on: tuple[Figure, ...]) -> Replacement:
    return Replacement(part.ref, part.marking, "tube", None, "", None, 1, "pass", f"tube {type_}: {why}", rests_on,
                       type=type_, note="Test it before it goes in, and keep the old one.")


def _belonging(part: Part, unit: Unit, wrong: Finding, catalogue: Catalogue) -> Replacement:
    """The same tube with the heater of its winding or string, where there is one and no other."""
    heating = unit.winding_of(part) or unit.string_of(part)
    found = _with_other_heater(part, heating, catalogue) if heating else []
    why = wrong.why.rstrip(".")
    if len(found) == 1:
        type_, figure = found[0]
        return _line(part, type_, f"the same tube with the heater that {heating.id if heating else ''} asks for: "
                     f"{why}.", (figure,))
    several = f"{', '.join(t for t, _ in found)} would suit; " if found else ""
    return unknown_line(part.ref, part.marking, "", f"{why}. {several}{_asked(part, unit)}.", wrong.rests_on)


def _with_other_heater(part: Part, heating: Winding | HeaterString, catalogue: Catalogue) -> list[tuple[str, Figure]]:
    """(type, its heater's figure) of the same tube with a heater that fits.

    The same tube is one that the table `substitutes` says differs in its heater only, or one whose RETMA name differs
    only in the leading number, the heater volts, with the same basing and function.
    """
    own = part.ratings.type if part.ratings else ""
    named = {row[0] for row in catalogue.query(
        "select substitute from {substitutes} where type = ? and relation = 'other heater' "
        "union select type from {substitutes} where substitute = ? and relation = 'other heater'", [own, own])}
    match = re.fullmatch(_NUMBERED, own)
    if match:
        named |= {row[0] for row in catalogue.query(
            "select b.type from {tubes} a join {tubes} b using (basing, function) where a.type = ? and b.type <> ? "
            "and regexp_matches(b.type, ?)", [own, own, rf"^\d+{match[2]}$"])}
    quantity, wanted = ("heater_v", heating.volts) if isinstance(heating, Winding) else ("heater_a", heating.amps)
    found = []
    for type_, ratings in sorted(catalogue.ratings(named).items()):
        figure = ratings.figure("tubes", quantity)
        if figure is not None and figure.value and abs(wanted / figure.value - 1) <= 0.05:
            found.append((type_, figure))
    return found


def _asked(part: Part, unit: Unit) -> str:
    """What the place asks for, as far as the unit tells it."""
    winding, string = unit.winding_of(part), unit.string_of(part)
    if winding is not None:
        return f"the diagram or the tube chart names it; its heater is of {winding.volts:g} V"
    if string is not None:
        return f"the diagram or the tube chart names it; its heater is of {string.amps:g} A"
    return "the diagram or the tube chart names it"
