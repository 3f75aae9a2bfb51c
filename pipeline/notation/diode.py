"""Silicon and selenium rectifiers: 1N4007, selenium 65 mA, B250C75.

The letter codes of European dry rectifiers (E half-wave, B bridge, M centre tap, V doubler; volts rms;
C for a capacitor load, milliamps) are recalled trade habit.
"""

from __future__ import annotations

import re
from decimal import Decimal

from pipeline.notation.lexing import NUMBER, number, speaks_of
from pipeline.notation.names import Index
from pipeline.notation.reading import Reading, Refusal, unread
from pipeline.records import replace

_CIRCUITS = {"E": "half-wave", "B": "bridge", "M": "centre tap", "V": "doubler"}
_CURRENT_ALONE = (
    rf"(?i)(?:{NUMBER}\s*v(?:olts?)?\s*(?:ac)?\s*)?{NUMBER}\s*m?a(?:mps?)?(?:\s*{NUMBER}\s*v(?:olts?)?)?"
)
_MOST_A = 20.0
_LEAST_V = 20.0  # volts and amps below it, without the word selenium, are a lamp's
_NUMBERED = r"1N[0-9]{2,5}[A-Z]{0,2}|UF[0-9]{4}|B[AY][A-Z]?[0-9]{2,3}[A-Z]?|OA[0-9]{2,3}"


def read_diode(text: str, known: Index, *, expected: bool = False) -> Reading | None:
    """Read a diode's marking; see `tube.read_tube` for the parameters."""
    times = re.match(r"([2-9])\s*x\s*(?=[A-Za-z0-9])", text)
    if times and (found := read_diode(text[times.end() :], known, expected=expected)) and found.kind:
        return found.noted(f"{times[1]} of them in one marking: give each its own line")
    return _dry(text) or _selenium(text, expected) or _known(text, known, expected)


def _known(text: str, known: Index, expected: bool) -> Reading | None:
    words = text.split()
    numbers = [word for word in words if any(char.isdigit() for char in word)]
    types = sorted({entries[0].type for word in numbers if (entries := known.exact(word))})
    if len(types) > 1:
        raise Refusal(f"it names {' and '.join(types)}, two types of the catalogue: write the one that is fitted")
    for name in (text, *numbers):
        entries = known.exact(name)
        if entries:
            left_out = " ".join(word for word in words if word not in name)
            notes = (f"left out: {left_out}",) if left_out else ()
            return Reading(kind="diode", type=entries[0].type, notes=notes)
    numbered = next((word for word in words if re.fullmatch(_NUMBERED, word.upper())), None)
    if numbered or expected:
        return unread(
            f"no diode of the name {text[:60]!r} in the catalogue", near=known.near(numbered or text)
        )
    return None


def _dry(text: str) -> Reading | None:
    """Read B250C75 and its kin; a second current after a slash is for use on a cooling plate."""
    code = r"([EBMV])\s*([0-9]{1,4})\s*C\s*([0-9]{2,4})(?:/([0-9]{2,4}))?(?:\s*[KLMNS]\w?)?"
    match = re.fullmatch(code, text.upper())
    if not match:
        return None
    low = min(int(match[3]), int(match[4] or match[3]))
    notes = (f"{low} mA taken, the smaller of the two currents: the larger needs a cooling plate",)
    return Reading(
        kind="diode",
        type=re.sub(r"\s", "", match[0]),
        volts_ac=float(match[2]),
        amps=low / 1000,
        circuit=_CIRCUITS[match[1]],
        notes=notes if match[4] else (),
    )


def _selenium(text: str, expected: bool) -> Reading | None:
    """Read the current and volts written beside the word selenium (or for a part known to be a rectifier)."""
    word = re.search(r"(?i)\b(?:selenium|selen|sel)\b", text)
    if not word and not (expected and speaks_of(text, "a") and re.fullmatch(_CURRENT_ALONE, text)):
        return None
    current = re.search(rf"(?i)(?<![0-9/.,])({NUMBER})\s*(m?)a(?:mps?)?\b", text)
    result = Reading(kind="diode", type="selenium")
    if not word:
        result = result.noted("read as a selenium rectifier: only those are marked by their current alone")
    if current:
        amps = number(current[1])[0] * (Decimal("0.001") if current[2] else 1)
        result = replace(result, amps=float(amps))
    volts = re.search(rf"(?i)(?<![0-9/.,])({NUMBER})\s*v(?:olts?)?\s*(?:ac|~)?(?![a-z0-9])", text)
    if volts:
        result = replace(result, volts_ac=float(number(volts[1])[0]))
    least_v = 0.0 if word else _LEAST_V
    amps_wrong = result.amps is not None and not 0 < result.amps <= _MOST_A
    if amps_wrong or (result.volts_ac is not None and result.volts_ac <= least_v):
        raise Refusal("its amps or volts are those of no rectifier of a tube set")
    return result
