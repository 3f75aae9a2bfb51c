"""The door: a marking as a person wrote it -> what it means, the ref and role deciding between kinds."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Mapping
from dataclasses import replace
from typing import Any

from pipeline.notation.capacitor import read_capacitor
from pipeline.notation.choke import read_choke
from pipeline.notation.damage import damage
from pipeline.notation.diode import read_diode
from pipeline.notation.fuse import read_fuse
from pipeline.notation.lamp import read_lamp
from pipeline.notation.lexing import clean, listed
from pipeline.notation.names import Index, index
from pipeline.notation.reading import Reading, Refusal, Section, unread
from pipeline.notation.resistor import read_resistor
from pipeline.notation.roles import KINDS_OF_ROLE
from pipeline.notation.tube import read_tube

__all__ = ["KINDS", "Reading", "Section", "kinds_of", "read"]

KINDS = ("tube", "capacitor", "resistor", "lamp", "fuse", "choke", "diode")
"""Every kind of part that is read."""

_REFS = {
    "tube": "V VT TU TUBE VALVE XV RÖ",
    "capacitor": "C EC CE CAP",
    "resistor": "R RV RK RT VR P POT",
    "lamp": "PL LP DL LA LAMP DS I IL",
    "fuse": "F FS FU FUSE SI",
    "choke": "CH CK DR L LF",
    "diode": "D CR SR SE REC MR BR GL",
}
_REF_KINDS: dict[str, tuple[str, ...]] = {ref: (kind,) for kind, refs in _REFS.items() for ref in refs.split()}
_REF_KINDS |= {"L": ("choke", "lamp"), "D": ("diode",), "REC": ("diode", "tube"), "SR": ("diode", "tube")}

_NAMED = {
    "tube": r"tube|valve|r(?:ö|oe)hre",
    "lamp": r"(?:pilot|dial|panel)?\s*(?:lamp|bulb|light)|pilot",
    "resistor": r"resistors?|pot(?:entiometer)?",
    "capacitor": r"capacitors?|condensers?|elko|electrolytic",
    "fuse": r"fuse",
    "choke": r"choke|field\s+coil",
    "diode": r"diode|selenium",
}
_PLAIN = ("tube", "lamp", "diode", "fuse")  # kinds whose word is not part of what they read
_OTHERS = (
    r"knob|transformer|xfmr|trafo|opt|loud\s?speaker|speaker|switch|socket|plug|jack|cord|cable|relay|antenna|aerial|"
    r"coil|battery|cartridge|needle|stylus|motor|belt|idler|grommet|screw|tag\s?strip|terminal|vibrator|crystal|dial"
)


def read(
    marking: str,
    *,
    names: Mapping[str, Any] | Index,
    lamps: Collection[str] | Mapping[str, Any] | Index = (),
    diodes: Mapping[str, Any] | Collection[str] | Index = (),
    ref: str | None = None,
    role: str | None = None,
) -> Reading:
    """Read what is printed on a part.

    Parameters
    ----------
    marking : str
        As typed: ``16 by 450``, ``6GW8/ECL86``, ``.05 400V``, ``#47``.
    names : mapping or Index
        Tube names as printed -> catalogue type, see `names.index`.  For many markings, index once.
    lamps, diodes : collection, mapping or Index
        Known lamp and diode types.
    ref : str, optional
        The part's ref, such as V1 or C3: its letters say which kind is expected.
    role : str, optional
        The part's role as `roles.read_role` gives it.

    Returns
    -------
    Reading
        ``kind`` None, with ``why``, where it cannot be read or can be two things.
    """
    try:
        text = clean(marking)
        harm = damage(text, kinds_of(ref, role))
        found = unread(harm) if harm else _read(text, (index(names), index(lamps), index(diodes)), ref, role)
    except Refusal as refusal:
        found = unread(str(refusal))
    return replace(found, marking=marking)


def kinds_of(ref: str | None, role: str | None) -> tuple[str, ...]:
    """Return the kinds that a ref and a role expect, likeliest first; () where neither says anything."""
    letters = re.match(r"[^\W\d_]*", (ref or "").strip())
    by_ref = _REF_KINDS.get(letters[0].upper(), ()) if letters else ()
    by_role = KINDS_OF_ROLE.get(role or "", ())
    both = tuple(kind for kind in by_ref if kind in by_role)
    return both or (*by_ref, *(kind for kind in by_role if kind not in by_ref))


def _read(text: str, known: tuple[Index, Index, Index], ref: str | None, role: str | None) -> Reading:
    named = [kind for kind, word in _NAMED.items() if re.search(rf"(?i)(?<![^\W\d_])(?:{word})(?![^\W\d_])", text)]
    kinds = kinds_of(ref, role)
    if len(named) == 1 and not (kinds and named[0] not in kinds):
        kinds = (named[0],)
    if len(named) == 1 and named[0] in ("tube", "lamp"):
        word = rf"(?i)(?<![^\W\d_])(?:{_NAMED[named[0]]})s?(?![^\W\d_])"
        text = " ".join(re.sub(word, " ", text).split()).strip(" ,;:-") or text
    if not named and (other := re.search(rf"(?i)\b(?:{_OTHERS})s?\b(?!\s*(?:run|start))", text)):
        return unread(f"a {other[0].lower()} is none of the kinds read: {listed(KINDS)}")
    readers = _readers(text, known, role)
    return _as_expected(text, readers, kinds, ref) if kinds else _unaided(text, readers)


_Reader = Callable[[bool], Reading | None]


def _readers(text: str, known: tuple[Index, Index, Index], role: str | None) -> dict[str, _Reader]:
    tubes, lamps, diodes = known
    return {
        "tube": lambda expected: read_tube(text, tubes, expected=expected),
        "capacitor": lambda expected: read_capacitor(text, expected=expected, role=role),
        "resistor": lambda expected: read_resistor(text, expected=expected),
        "lamp": lambda expected: read_lamp(text, lamps, expected=expected),
        "fuse": lambda expected: read_fuse(text, expected=expected),
        "choke": lambda expected: read_choke(text, expected=expected),
        "diode": lambda expected: read_diode(text, diodes, expected=expected),
    }


def _as_expected(text: str, readers: dict[str, _Reader], kinds: tuple[str, ...], ref: str | None) -> Reading:
    """Read as the expected kinds; what reads only as another kind is told, not taken."""
    tried = [readers[kind](True) for kind in kinds]
    found = next((reading for reading in tried if reading and reading.kind), None)
    if found:
        return replace(found, bare=False)
    others = [readers[kind](False) for kind in KINDS if kind not in kinds]
    clear = tuple(str(reading.kind) for reading in others if reading and reading.kind and not reading.bare)
    failed = next((reading for reading in tried if reading), None) or unread(f"{text[:60]!r} is no {listed(kinds)}")
    if not clear:
        return failed
    place = f"its ref {ref}" if ref else "its role"
    why = f"it reads as a {listed(clear)}, but {place} is that of a {listed(kinds)}: mend the one that is wrong"
    return replace(failed, why=why, could_be=clear)


def _unaided(text: str, readers: dict[str, _Reader]) -> Reading:
    """Read without ref and role: the one kind that fits, or the reason why none or several do."""
    tried = [readers[kind](False) for kind in KINDS]
    found = [reading for reading in tried if reading and reading.kind]
    clear = [reading for reading in found if not reading.bare] or found
    if len(clear) == 1 and not (clear[0].kind == "resistor" and clear[0].bare):
        return clear[0]
    if found:
        possible = [_told(reading) for reading in clear]
        kinds = [str(reading.kind) for reading in clear]
        if "resistor" in kinds and len(clear) == 1:
            possible.append(f"capacitor of {text} µF or pF")
            kinds.append("capacitor")
        return unread(f"it can be a {listed(possible)}: give its ref or role, or write the unit", tuple(kinds))
    failed = next((reading for reading in tried if reading), None)
    return failed or unread(f"{text[:60]!r} is not understood: no value with a unit and no known type in it")


def _told(reading: Reading) -> str:
    """Name one possibility in a few words."""
    if reading.type:
        return f"{reading.kind} {reading.type}"
    if reading.ohms is not None and reading.kind == "resistor":
        return f"resistor of {reading.ohms:g} ohm"
    if reading.sections:
        return f"capacitor of {reading.sections[0].uf:g} µF"
    return str(reading.kind)
