"""Chokes and field coils: 10 H 120 mA 200 ohm, 8H 100mA, 5 henry."""

from __future__ import annotations

import re
from decimal import Decimal

from pipeline.notation.lexing import NUMBER, number
from pipeline.notation.reading import Reading, Refusal

_SCALE = {
    "m": Decimal("0.001"),
    "µ": Decimal("0.000001"),
    "u": Decimal("0.000001"),
    "k": Decimal(1000),
    "": Decimal(1),
}
_HENRIES = rf"({NUMBER})\s*([mµu]?)(?:h(?:y|ys|en(?:ry|ries|rys|ri|r[iy]s))?)\.?(?![a-zµ0-9])"
_AMPS = rf"({NUMBER})\s*(m?)a(?:mps?)?\.?(?![a-zµ0-9])"
_OHMS = rf"({NUMBER})\s*(k?)\s*(?:ohms?|Ω|(?<=[0-9] )r|(?<=[0-9])r)(?![a-zµ0-9])"
_MOST = {"henries": 2000.0, "amps": 20.0, "ohms": 50_000.0}
_WORDS = (
    r"(?i)\b(?:smoothing|filter|swinging|choke|field|coil|speaker|winding|de|filtrage|drossel|siebdrossel|self|дроссель|dc|d\.c\.|"
    r"rf|r\.f\.|iron|at|dcr|res)\b"
)


def read_choke(text: str, *, expected: bool = False) -> Reading | None:
    """Read a choke's marking.

    Parameters
    ----------
    text : str
        A marking as `lexing.clean` leaves it.
    expected : bool
        True where ref or role says that it is a choke: then amps and ohms alone will do.

    Returns
    -------
    Reading or None
        Henries, winding ohms, rated amps, each None where not marked.

    Raises
    ------
    Refusal
        A choke's marking with a zero or something not understood in it.
    """
    if re.search(r"(?:^|[\s(=])-\s?[0-9.,]", text):
        raise Refusal("a minus sign stands before a number: write it without")
    rest, found = text, {}
    for name, pattern in (("henries", _HENRIES), ("amps", _AMPS), ("ohms", _OHMS)):
        match = re.search(f"(?i){pattern}", rest)
        if match:
            found[name] = float(number(match[1])[0] * _SCALE[match[2].lower()])
            rest = f"{rest[: match.start()]} {rest[match.end() :]}"
    resistance = re.search(rf"(?i)\b(?:dcr|res(?:istance)?)\s*[:=]?\s*({NUMBER})", rest)
    if resistance and "ohms" not in found:
        found["ohms"] = float(number(resistance[1])[0])
        rest = rest.replace(resistance[0], " ")
    named = re.search(r"(?i)(?:\b(?:choke|field)\b|drossel|дроссель)", text) is not None
    if "henries" not in found and not (found and (expected or named)):
        return None
    left = re.sub(r"[\s,;/@()=+-]+", " ", re.sub(_WORDS, " ", rest)).strip()
    if any(char.isdigit() for char in left) or any(len(word) < 3 for word in left.split()):
        if expected:
            raise Refusal(f"{left!r} in it is not understood")
        return None
    if any(not 0 < value <= _MOST[name] for name, value in found.items()):
        raise Refusal("a value in it is that of no choke: is a unit wrong?")
    notes = (f"left out: {left}",) if left else ()
    return Reading(kind="choke", notes=notes, henries=found.get("henries"), amps=found.get("amps"),
                   ohms=found.get("ohms"))
