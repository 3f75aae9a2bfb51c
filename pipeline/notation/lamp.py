"""Pilot lamps: #47, No. 47, lamp 44, 6.3 V 0.15 A."""

from __future__ import annotations

import re
from decimal import Decimal

from pipeline.notation.lexing import NUMBER, number
from pipeline.notation.names import Index, normal
from pipeline.notation.reading import Reading, Refusal, unread

_HIGHEST_V = 60.0  # above it, volts and amps alone may as well be a fuse's
_HIGHEST_A = 5.0
_WORDS = (
    r"(?i)\s*(?<![^\W_])(?:mes|mcc|les|e10|ba9s?|ba7s|screw|bayonet|skalenlampe|skalenlämpchen|lämpchen|birne|lampje|ampoule|"
    r"lampadina|žárovka|лампочка|мн|lampe|lampada)(?![^\W_])"
)
_LABEL = r"(?i)^(?:(?:#|no\b|nr\b|number\b|type\b)\.?\s*)+"


def read_lamp(text: str, known: Index, *, expected: bool = False) -> Reading | None:
    """Read a lamp's marking; see `tube.read_tube` for the parameters.

    A lamp marked only by its volts and amps has no type; both are then in the reading.
    """
    if re.match(r"-\s*[0-9.,]", text):
        raise Refusal("a minus sign stands before the volts: write them without")
    name = re.sub(_LABEL, "", text)
    numbered = name != text
    if entries := known.exact(name):
        return Reading(kind="lamp", type=entries[0].type, bare=not numbered and normal(name).isdigit())
    if (neon := _neon(name, expected)) is not None:
        return neon
    if (rated := _rated(re.sub(_WORDS, "", text).strip(" ,;/-"))) and (expected or (rated.volts or 0) < _HIGHEST_V):
        return rated
    words = [word.lstrip("#") for word in text.split()]
    found = [entries[0] for word in words if (entries := known.exact(word))]
    rest = [word for word in words if not known.exact(word)]
    maker = all(len(word) > 1 and not any(char.isdigit() for char in word) for word in rest)
    if len(found) == 1 and rest and maker:
        bare = not expected and normal(found[0].printed).isdigit()
        return Reading(kind="lamp", type=found[0].type, notes=(f"left out: {' '.join(rest)}",), bare=bare)
    if expected or (numbered and "#" in text):
        return unread(f"no lamp of the name {text[:60]!r} in the catalogue", near=known.near(name))
    return None


def _neon(name: str, expected: bool) -> Reading | None:
    """Read a neon glow lamp: NE-2, NE51H, neon 110 V."""
    numbered = re.fullmatch(r"(?i)(NE)[\s-]?([0-9]{1,3}[A-Z]{0,2})", name)
    said = re.search(r"(?i)(?<![^\W_])(?:neon|glimmlampe|glow\s*lamp|néon)(?![^\W_])", name)
    if not numbered and not said:
        return None
    note = "a neon glow lamp: it wants its series resistor, and is no lamp for a heater winding"
    volts = re.search(rf"(?i)(?<![^\W_])({NUMBER})\s*v(?:olts?|ac)?(?![^\W_])", name)
    if numbered or expected or said:
        type_ = f"NE-{numbered[2].upper()}" if numbered else None
        return Reading(kind="lamp", type=type_, volts=float(number(volts[1])[0]) if volts else None, notes=(note,))
    return None


def _rated(text: str) -> Reading | None:
    """Read volts with amps or watts, in either order."""
    volts = rf"(?:({NUMBER})\s?-\s?)?({NUMBER})\s*v(?:olts?)?"
    load = rf"({NUMBER})\s*(ma|a|amps?|w|watts?)"
    joint = r"\s*[/,x@-]?\s*"
    match = re.fullmatch(rf"(?i){volts}{joint}{load}", text)
    if match:
        low, high, size, unit = match.groups()
    else:
        match = re.fullmatch(rf"(?i){load}{joint}{volts}", text)
        if not match:
            return None
        size, unit, low, high = match.groups()
    level, quantity = number(high)[0], number(size)[0]
    if not 0 < level <= 260 or quantity <= 0:
        return None
    amps = _amps(quantity, unit, level)
    if amps > _HIGHEST_A or (low and unit.lower().startswith("w")):
        return None
    note = f"rated for a range of volts, {low} to {high} V: the amps are for one of them"
    return Reading(kind="lamp", volts=None if low else float(level), amps=amps, notes=(note,) if low else ())


def _amps(quantity: Decimal, unit: str, volts: Decimal) -> float:
    if unit.lower() == "ma":
        return float(quantity * Decimal("0.001"))
    return float(quantity / volts) if unit.lower().startswith("w") else float(quantity)
