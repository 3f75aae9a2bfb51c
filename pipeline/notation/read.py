"""The door: a marking as a person wrote it -> what it means; kind, ref and role decide where it could be two things."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Mapping
from functools import lru_cache
from typing import Any, NamedTuple

from pipeline.amounts import amount
from pipeline.notation import kinds as registry
from pipeline.notation.beyond import NOTHING, holds_all, read_beyond
from pipeline.notation.capacitor import read_capacitor
from pipeline.notation.choke import read_choke
from pipeline.notation.damage import damage
from pipeline.notation.diode import read_diode
from pipeline.notation.fuse import read_fuse
from pipeline.notation.kinds import BEYOND, ELECTRONIC
from pipeline.notation.lamp import read_lamp
from pipeline.notation.lexing import NUMBER, clean, listed, speaks_of
from pipeline.notation.names import Index, index
from pipeline.notation.reading import Reading, Refusal, Section, unread
from pipeline.notation.resistor import read_resistor
from pipeline.notation.roles import KINDS_OF_ROLE
from pipeline.notation.tube import read_tube
from pipeline.records import replace

__all__ = ["KINDS", "Reading", "Section", "kinds_of", "read"]

KINDS = registry.NAMES
"""Every kind of part that is read."""

_IN_ITS_PLACE = {"tube": ("diode", "ballast"), "resistor": ("ballast", "potentiometer")}
"""Kinds that are found in the place of another under its ref; a clear marking is then taken for what it is."""
_RELATED = {
    "tube": ("ballast", "socket", "hardware"), "resistor": ("potentiometer", "thermistor", "ballast"),
    "capacitor": ("tuning capacitor", "trimmer"), "choke": ("coil", "transformer"), "lamp": ("socket", "hardware"),
    "fuse": ("hardware", "socket"), "diode": (),
}  # fmt: skip
"""Kinds that a restorer writes under another's ref, and names in words."""
_TELLING = ("ballast", "potentiometer")
"""Kinds beyond electronics whose marking may say by itself what they are."""
_CLEAR = ("tube", "capacitor", "resistor", "diode")
"""Kinds whose clear marking weighs more than the letters of a ref beyond electronics."""
_NOW = r"(?i)(?:^|[\s,;(])(?:now|replaced (?:by|with)|changed to|jetzt|ersetzt durch|maintenant|ora|nu)\s*:?\s+(?=\S)"
_FOR = r"(?i)[\s,;(]+(?:in place of|in the place of|instead of|replaces|anstelle von|statt|au lieu de|al posto di)\s+"


def read(
    marking: str,
    *,
    names: Mapping[str, Any] | Index,
    lamps: Collection[str] | Mapping[str, Any] | Index = (),
    diodes: Mapping[str, Any] | Collection[str] | Index = (),
    ballasts: Collection[str] | Index = (),
    ref: str | None = None,
    role: str | None = None,
    kind: str | None = None,
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
    ballasts : collection or Index
        Which of the types are ballasts or barretters: they stand among the tubes' names.
    ref : str, optional
        The part's ref, such as V1 or C3: its letters say which kind is expected.
    role : str, optional
        The part's role as `roles.read_role` gives it.
    kind : str, optional
        The part's kind as `kinds.read_kind` gives it: it goes before what the ref suggests.

    Returns
    -------
    Reading
        ``kind`` None, with ``why``, where it cannot be read or can be two things.
    """
    known = _Known(_indexed(names), _indexed(lamps), _indexed(diodes), _indexed(ballasts))
    letters = _letters(ref)
    found = _reading(marking, known, letters, role, kind)
    if found.kind is None and letters != ref:  # the reason may name the ref
        found = _reading(marking, known, ref, role, kind)
    return found


@lru_cache(maxsize=4096)
def _reading(marking: str, known: _Known, ref: str | None, role: str | None, kind: str | None) -> Reading:
    """Read a marking; the same one stands in many a unit."""
    expected = (kind,) if kind else kinds_of(ref, role)
    try:
        text = clean(marking)
        harm = damage(text, expected)
        found = unread(harm) if harm else _fitted(text, known, ref, role, kind)
    except Refusal as refusal:
        found = unread(str(refusal))
        if expected and expected[0] in BEYOND and not any(char.isalnum() for char in marking):
            found = Reading(kind=expected[0], notes=(NOTHING,))
    return replace(found, marking=marking)


def _fitted(text: str, known: _Known, ref: str | None, role: str | None, kind: str | None) -> Reading:
    """Read what is fitted now, where the marking says both what was and what is: ``5Y3 now 1N4007``."""
    fitted, *old = re.split(_FOR, text, maxsplit=1)
    if old and fitted.strip() and old[0].strip():
        found = _read(fitted.strip(" ,;("), known, ref, role, kind)
        return found.noted(f"{old[0].strip(' )')} was there before") if found.kind else found
    was, *now = re.split(_NOW, text, maxsplit=1)
    if not now:
        return _read(text, known, ref, role, kind)
    found = _read(now[0].strip(" )"), known, ref, role, kind)
    before = re.sub(r"(?i)^(?:was|formerly|originally|before|war|früher)\b[\s:]*", "", was).strip(" ,;(")
    return found.noted(f"{before} was there before") if found.kind and before else found



class _Known(NamedTuple):
    """The names that are known."""

    tubes: Index
    lamps: Index
    diodes: Index
    ballasts: Index


_KEPT: dict[int, tuple[Any, int, Index]] = {}


def _indexed(known: Mapping[str, Any] | Collection[str] | Index) -> Index:
    """Return the index of known names, kept for the next marking of the same parts list."""
    if isinstance(known, Index):
        return known
    kept = _KEPT.get(id(known))
    if kept and kept[0] is known and kept[1] == len(known):
        return kept[2]
    if len(_KEPT) >= 8:
        _KEPT.clear()
    made = index(known)
    _KEPT[id(known)] = (known, len(known), made)  # holding the object keeps its id from being used again
    return made


def kinds_of(ref: str | None, role: str | None) -> tuple[str, ...]:
    """Return the kinds that a ref and a role expect, likeliest first; () where neither says anything.

    The ref of an electronic kind goes first: a role that does not fit it is a slip in the list, not another kind of
    part.  Letters that only suggest a kind beyond electronics give way to the role.
    """
    by_ref = registry.kinds_of_ref(_letters(ref) or "")
    by_role = KINDS_OF_ROLE.get(role or "", ())
    both = tuple(kind for kind in by_ref if kind in by_role)
    if both and role == "rectifier":
        return (*both, *(kind for kind in by_role if kind not in both))
    if not both and by_role and by_ref and by_ref[0] in BEYOND:
        return by_role  # X1 across the line is a capacitor, whatever else X stands for
    return both or by_ref or by_role


def _letters(ref: str | None) -> str | None:
    """Return the letters that a ref begins with."""
    match = re.match(r"\s*([^\W\d_]*)", ref or "")
    return match[1] if match and ref else ref


def _read(text: str, known: _Known, ref: str | None, role: str | None, kind: str | None) -> Reading:
    if kind in BEYOND:
        found = read_beyond(kind, text)
        return (_known_ballast(found, known.tubes) or found) if kind == "ballast" else found
    kinds = (kind,) if kind else kinds_of(ref, role)
    named = registry.named(text, kinds)
    attempt = _attempts(text, known, role, bool(kinds) or named is not None)
    if named in BEYOND and kind is None:
        return _named_beyond(text, named, kinds, attempt)
    if kinds and kinds[0] in BEYOND and kind is None:
        return _suggested_beyond(text, kinds, named, ref, attempt)
    if named and kinds and named in _IN_ITS_PLACE.get(kinds[0], ()) and not kind:
        kinds = (named,)
    if named and kinds and named not in kinds:
        place = "its kind" if kind else f"its ref {ref}" if ref else "its role"
        return unread(
            f"it says {named}, but {place} is that of a {listed(kinds)}: mend the one that is wrong"
        )
    if named in ("tube", "lamp"):
        attempt = _attempts(_without_name(text, named), known, role, True)
    expected = (named,) if named else kinds
    if not expected and _label(text):
        expected = ("lamp", "tube")
    return _as_expected(text, attempt, expected, ref, kind) if expected else _unaided(text, attempt)


def _label(text: str) -> re.Match[str] | None:
    """Find the sign before a number, as in #47 or No. 47."""
    return re.match(r"(?i)(?:#|no\b|nr\b)[\s.:]*(?=[0-9A-Za-z])", text) if speaks_of(text[:1], "#", "n") else None


def _without_name(text: str, named: str) -> str:
    """Drop the words tube or lamp, which are no part of the type."""
    said = sorted(registry.KINDS[named].words, key=len, reverse=True)
    words = "|".join(re.escape(word) for word in said if "neon" not in word)
    return " ".join(re.sub(rf"(?i)(?<![^\W\d_])(?:{words})s?(?![^\W\d_])", " ", text).split()).strip(" ,;:-") or text


def _attempts(text: str, known: _Known, role: str | None, helped: bool) -> _Attempt:
    """Return the function that reads a text as one kind, a refusal becoming a reading that says why.

    So that other kinds still have their turn.
    """
    label = _label(text)
    unlabelled = text[label.end() :] if label else text

    def attempt(kind: str, expected: bool) -> Reading | None:
        try:
            return _read_as(kind, unlabelled if kind == "tube" else text, known, role, expected)
        except Refusal as refusal:
            return unread(str(refusal), near=refusal.near)

    return attempt


def _named_beyond(text: str, named: str, kinds: tuple[str, ...], attempt: _Attempt) -> Reading:
    """Read what its own words name; a ref of electronics goes first where the marking reads clearly as that.

    But not before a near relation: a pot under R5 is a potentiometer, a socket under V3 a socket.
    """
    for kind in kinds:
        found = attempt(kind, True) if kind in ELECTRONIC and named not in _RELATED[kind] else None
        if found and found.kind and not found.bare:
            return found
    if not kinds:
        clear = _clear(attempt)
        if len(clear) == 1 and not holds_all(named, text):
            return clear[0]
    return read_beyond(named, text)


def _suggested_beyond(
    text: str, kinds: tuple[str, ...], named: str | None, ref: str | None, attempt: _Attempt
) -> Reading:
    """Read a part whose ref or role only suggests what it is: a clear tube, capacitor or resistor is that."""
    if named:
        found = attempt(named, True)
        if found and found.kind:
            return found
    for kind in kinds:
        if kind in ELECTRONIC:
            found = attempt(kind, True)
            if found and found.kind:
                return found
        elif holds_all(kind, text):
            return read_beyond(kind, text)
    clear = _clear(attempt)
    if len(clear) > 1:
        could = [str(reading.kind) for reading in clear]
        return unread(f"it can be a {listed([_told(reading) for reading in clear])}: give its kind", tuple(could))
    if clear:
        place = f"its ref {ref}" if ref else "its role"
        return clear[0].noted(f"{place} is that of a {listed(kinds)}, its marking is not")
    return read_beyond(next(kind for kind in kinds if kind in BEYOND), text)


def _clear(attempt: _Attempt) -> list[Reading]:
    tried = (attempt(kind, False) for kind in _CLEAR)
    return [reading for reading in tried if reading and reading.kind and not reading.bare]


_Attempt = Callable[[str, bool], Reading | None]


def _read_as(kind: str, text: str, known: _Known, role: str | None, expected: bool) -> Reading | None:
    match kind:
        case "tube":
            found = read_tube(text, known.tubes, expected=expected)
            return _no_tube(found) if found and found.type and known.ballasts.exact(found.type) else found
        case "capacitor":
            return read_capacitor(text, expected=expected, role=role)
        case "resistor":
            return read_resistor(text, expected=expected)
        case "lamp":
            return read_lamp(text, known.lamps, expected=expected)
        case "fuse":
            return read_fuse(text, expected=expected)
        case "choke":
            return read_choke(text, expected=expected)
        case "diode":
            return read_diode(text, known.diodes, expected=expected)
        case "ballast":
            return _known_ballast(_read_beyond(kind, text, expected), known.tubes)
        case _:
            return _read_beyond(kind, text, expected)


def _no_tube(found: Reading) -> Reading:
    """Call a ballast that stands among the tubes' names what it is, with what its code says."""
    coded = _read_beyond("ballast", found.type or "", False) or Reading(kind="ballast")
    return replace(coded, type=found.type, via=found.via, notes=(*found.notes, *coded.notes))


def _known_ballast(found: Reading | None, tubes: Index) -> Reading | None:
    """Give a ballast's type the catalogue's name, where it has one."""
    if found is None or found.type is None:
        return found
    name = found.type.replace(",", ".")
    entries = tubes.exact(name) or tubes.transliterated(name)
    return replace(found, type=entries[0].type) if entries else found


def _read_beyond(kind: str, text: str, expected: bool) -> Reading | None:
    """Read as a kind beyond electronics: where it is not expected only if its marking says what it is."""
    if expected:
        return read_beyond(kind, text)
    reader = registry.KINDS[kind].reader
    return reader(text, False) if reader and kind in _TELLING else None


def _as_expected(text: str, attempt: _Attempt, kinds: tuple[str, ...], ref: str | None, kind: str | None) -> Reading:
    """Read as the expected kinds; what reads only as another kind is told, not taken."""
    tried: list[Reading | None] = []
    for each in kinds:
        if each in BEYOND and tried and tried[0] is not None:
            continue  # what was refused as the likeliest kind is not kept as another that holds anything
        found = attempt(each, True)
        if found and found.kind:
            return replace(found, bare=False) if found.bare else found
        tried.append(found)
    for each in () if kind else _IN_ITS_PLACE.get(kinds[0], ()):
        found = attempt(each, False)
        if found and found.kind and not found.bare and (found.type != "selenium"):
            return found.noted(f"a {found.kind} in the place of a {kinds[0]}")
    others = [attempt(each, False) for each in (*ELECTRONIC, *_TELLING) if each not in kinds]
    clear = tuple(str(reading.kind) for reading in others if reading and reading.kind and not reading.bare)
    failed = next((reading for reading in tried if reading), None)
    if not clear or (failed and not failed.near and "catalogue" not in str(failed.why)):
        return failed or unread(
            f"no {' and no '.join(registry.KINDS[each].example for each in kinds)} found in {text[:60]!r}"
        )
    place = "its kind" if kind else f"its ref {ref}" if ref else "its role"
    why = (
        f"it reads as a {listed(clear)}, but {place} is that of a {listed(kinds)}: mend the one that is wrong"
    )
    return replace(failed or unread(why), why=why, could_be=clear)


def _unaided(text: str, attempt: _Attempt) -> Reading:
    """Read without ref and role: the one kind that fits, or the reason why none or several do."""
    tried = [attempt(kind, False) for kind in (*ELECTRONIC, *_TELLING)]
    found = [reading for reading in tried if reading and reading.kind]
    ballast = next((reading for reading in found if reading.kind == "ballast"), None)
    if ballast and any(r.kind in ("tube", "ballast") and r.type == ballast.type for r in found if r is not ballast):
        return ballast  # the same thing, found among the tubes' names as well
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
        return f"resistor of {amount(reading.ohms or 0.0, 'ohm')}"
    if reading.sections:
        return f"capacitor of {amount(reading.sections[0].uf, 'µF')}"
    return str(reading.kind)
