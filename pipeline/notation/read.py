"""The door: a marking as a person wrote it -> what it means, the ref and role deciding between kinds."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Mapping
from dataclasses import replace
from functools import lru_cache
from typing import Any

from pipeline.notation.capacitor import read_capacitor
from pipeline.notation.choke import read_choke
from pipeline.notation.damage import damage
from pipeline.notation.diode import read_diode
from pipeline.notation.fuse import read_fuse
from pipeline.notation.lamp import read_lamp
from pipeline.notation.lexing import NUMBER, clean, listed
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
_REF_KINDS: dict[str, tuple[str, ...]] = {
    ref: (kind,) for kind, refs in _REFS.items() for ref in refs.split()
}
_REF_KINDS["L"] = ("choke", "lamp")

_NAMED = {
    "tube": r"tube|valve|r(?:ö|oe)hre",
    "lamp": r"(?:pilot|dial|panel)?\s*(?:lamp|bulb|light)|pilot",
    "resistor": r"resistors?|pot(?:entiometer)?",
    "capacitor": r"capacitors?|condensers?|elko|electrolytic",
    "fuse": r"fuse",
    "choke": r"choke|field\s+coil",
    "diode": r"diode|selenium",
}
_NAMES_A_KIND = {kind: rf"(?i)(?<![^\W\d_])(?:{word})(?![^\W\d_])" for kind, word in _NAMED.items()}
_NAMES_ANY = rf"(?i)(?<![^\W\d_])(?:{'|'.join(_NAMED.values())})(?![^\W\d_])"
_EXAMPLES = {
    "tube": "tube of the catalogue",
    "capacitor": "value of a capacitor such as 16 µF 450 V",
    "resistor": "value of a resistor such as 470 k",
    "lamp": "lamp number such as #47",
    "fuse": "fuse rating such as T 500 mA",
    "choke": "henries, amps or ohms of a choke",
    "diode": "diode type such as 1N4007",
}
_OTHERS = (
    r"knob|transformer|xfmr|trafo|opt|loud\s?speaker|speaker|switch|socket|plug|jack|cord|cable|relay|antenna|aerial|"
    r"coil|battery|cartridge|needle|stylus|motor|belt|idler|grommet|screw|tag\s?strip|terminal|vibrator|crystal|dial"
)
_NAMES_ANOTHER = rf"(?i)\b(?:{_OTHERS})s?\b(?!\s*(?:run|start))"


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
        Tube names as printed -> catalogue type, see `names.index`.  The indexes of the objects given last
        are kept, so give the same one again for the next marking, and do not change it in between.
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
    known = (_indexed(names), _indexed(lamps), _indexed(diodes))
    letters = _letters(ref)
    found = _reading(marking, known, letters, role)
    if found.kind is None and letters != ref:  # the reason may name the ref
        found = _reading(marking, known, ref, role)
    return found


@lru_cache(maxsize=4096)
def _reading(marking: str, known: _Known, ref: str | None, role: str | None) -> Reading:
    """Read a marking; the same one stands in many a unit."""
    try:
        text = clean(marking)
        harm = damage(text, kinds_of(ref, role))
        found = unread(harm) if harm else _read(text, known, ref, role)
    except Refusal as refusal:
        found = unread(str(refusal))
    return replace(found, marking=marking)


_Known = tuple[Index, Index, Index]
"""Tubes, lamps, diodes."""
_KEPT: dict[int, tuple[Any, int, Index]] = {}


def _indexed(known: Mapping[str, Any] | Collection[str] | Index) -> Index:
    """Return the index of known names, kept for the next marking of the same parts list."""
    if isinstance(known, Index):
        return known
    kept = _KEPT.get(id(known))
    if kept and kept[0] is known and kept[1] == len(known):
        return kept[2]
    if len(_KEPT) >= 6:
        _KEPT.clear()
    made = index(known)
    _KEPT[id(known)] = (known, len(known), made)  # holding the object keeps its id from being used again
    return made


def kinds_of(ref: str | None, role: str | None) -> tuple[str, ...]:
    """Return the kinds that a ref and a role expect, likeliest first; () where neither says anything.

    The ref goes first: a role that does not fit it is a slip in the list, not another kind of part.
    """
    by_ref = _REF_KINDS.get((_letters(ref) or "").upper(), ())
    by_role = KINDS_OF_ROLE.get(role or "", ())
    both = tuple(kind for kind in by_ref if kind in by_role)
    if both and role == "rectifier":
        return (*both, *(kind for kind in by_role if kind not in both))
    return both or by_ref or by_role


def _letters(ref: str | None) -> str | None:
    """Return the letters that a ref begins with."""
    match = re.match(r"\s*([^\W\d_]*)", ref or "")
    return match[1] if match and ref else ref


def _read(text: str, known: _Known, ref: str | None, role: str | None) -> Reading:
    named: list[str] = []
    if re.search(_NAMES_ANY, text):
        named = [kind for kind, pattern in _NAMES_A_KIND.items() if re.search(pattern, text)]
    kinds = kinds_of(ref, role)
    if len(named) == 1 and kinds and named[0] not in kinds:
        place = f"its ref {ref}" if ref else "its role"
        return unread(
            f"it says {named[0]}, but {place} is that of a {listed(kinds)}: mend the one that is wrong"
        )
    if len(named) == 1:
        kinds = (named[0],)
    if len(named) == 1 and named[0] in ("tube", "lamp"):
        word = rf"(?i)(?<![^\W\d_])(?:{_NAMED[named[0]]})s?(?![^\W\d_])"
        text = " ".join(re.sub(word, " ", text).split()).strip(" ,;:-") or text
    if not named and (other := re.search(_NAMES_ANOTHER, text)):
        return unread(f"a {other[0].lower()} is none of the kinds read: {listed(KINDS)}")
    label = re.match(r"(?i)(?:#|no\b|nr\b)[\s.:]*(?=[0-9A-Za-z])", text)
    if label and not kinds:
        kinds = ("lamp", "tube")
    unlabelled = text[label.end() :] if label else text

    def attempt(kind: str, expected: bool) -> Reading | None:
        """Read as one kind; a refusal becomes a reading that says why, so that other kinds still have their turn."""
        try:
            return _read_as(kind, unlabelled if kind == "tube" else text, known, role, expected)
        except Refusal as refusal:
            return unread(str(refusal))

    return _as_expected(text, attempt, kinds, ref) if kinds else _unaided(text, attempt)


_Attempt = Callable[[str, bool], Reading | None]


def _read_as(kind: str, text: str, known: _Known, role: str | None, expected: bool) -> Reading | None:
    tubes, lamps, diodes = known
    match kind:
        case "tube":
            return read_tube(text, tubes, expected=expected)
        case "capacitor":
            return read_capacitor(text, expected=expected, role=role)
        case "resistor":
            return read_resistor(text, expected=expected)
        case "lamp":
            return read_lamp(text, lamps, expected=expected)
        case "fuse":
            return read_fuse(text, expected=expected)
        case "choke":
            return read_choke(text, expected=expected)
        case _:
            return read_diode(text, diodes, expected=expected)


def _as_expected(text: str, attempt: _Attempt, kinds: tuple[str, ...], ref: str | None) -> Reading:
    """Read as the expected kinds; what reads only as another kind is told, not taken."""
    tried: list[Reading | None] = []
    for kind in kinds:
        found = attempt(kind, True)
        if found and found.kind:
            return replace(found, bare=False) if found.bare else found
        tried.append(found)
    others = [attempt(kind, False) for kind in KINDS if kind not in kinds]
    clear = tuple(str(reading.kind) for reading in others if reading and reading.kind and not reading.bare)
    failed = next((reading for reading in tried if reading), None)
    if not clear or (failed and not failed.near and "catalogue" not in str(failed.why)):
        return failed or unread(
            f"no {' and no '.join(_EXAMPLES[kind] for kind in kinds)} found in {text[:60]!r}"
        )
    place = f"its ref {ref}" if ref else "its role"
    why = (
        f"it reads as a {listed(clear)}, but {place} is that of a {listed(kinds)}: mend the one that is wrong"
    )
    return replace(failed or unread(why), why=why, could_be=clear)


def _unaided(text: str, attempt: _Attempt) -> Reading:
    """Read without ref and role: the one kind that fits, or the reason why none or several do."""
    tried = [attempt(kind, False) for kind in KINDS]
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
        return unread(
            f"it can be a {listed(possible)}: give its ref or role, or write the unit", tuple(kinds)
        )
    if re.fullmatch(NUMBER, text) and not re.search("[.,]", text):
        return unread(
            f"{text} alone: no tube or lamp of that number in the catalogue, and a value needs a unit or ref"
        )
    failed = next((reading for reading in (*tried[1:], tried[0]) if reading), None)
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
