"""A part as one speaks of it on one line: `C1 16 by 450 reservoir B1`, taken apart from its end."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import NamedTuple

from pipeline.notation.read import kinds_of
from pipeline.notation.roles import KINDS_OF_ROLE, role_said

LONGEST_ROLE = 5
"""Words that the longest name of a role has."""
LONGEST_PLACE = 4
_MEASURED = re.compile(r"(?i)(?:^|[\s,;])(?:measured|measures|reads?)(?=\s)[\s:]*(.+)$")
_NOTE = re.compile(r"(?i)(?:^|[\s,;])note(?:[:\s]\s*)(.+)$")
_JOINING = ("at", "on", "of", "to", "in", "for", "from", "the", "@", "is", "as", "a", "an")
_REF_LIKE = re.compile(r"(?i)(?!XY\d|[XY][1-4]$)[A-Z]{1,4}\d{1,3}[A-H]?|[ABCH][+-]")
"""A ref or node that is not known yet; X2 and Y1 are safety classes."""
_SECTIONS = ("triode", "pentode", "tetrode", "heptode", "hexode", "diode", "rectifier")
_AT_BYPASS = {"cathode": "cathode bypass", "screen": "screen bypass", "plate load": None, "grid leak": "coupling"}
"""What a role of resistors means when it is said of a capacitor."""


class Spoken(NamedTuple):
    """What a line says of a part, each as it was typed; the role by its name.

    `at` holds the places; `known` tells whether all of them are. `said` is the role's own words.
    """

    ref: str
    marking: str = ""
    role: str | None = None
    at: str = ""
    measured: str = ""
    note: str = ""
    known: bool = True
    said: str = ""


def split_spoken(line: str, is_place: Callable[[str], bool]) -> Spoken:
    """Ref first, then marking, role and places in the trade's order; `measured ...` and `note ...` at the end.

    Role and places are looked for from the end, in either order, with `at`, `on` or `of` between; what is left is the
    marking, so it may hold any word. `is_place` tells whether a text names one place. Raises ValueError for a word that
    may be several roles.
    """
    ref, _, rest = line.strip().partition(" ")
    rest, note = _cut(_NOTE, rest)
    rest, measured = _cut(_MEASURED, rest)
    words = rest.split()
    bare = len(words) > 1 and words[0].lower() in ("at", "@", "on")  # `V1 at H2`: nothing but the place
    role, at, known, said = None, "", True, ""
    for _ in range(2):
        if not at:
            words, at, known = _place(words, is_place, 0 if bare or role else 1, joined=bool(role))
        if role is None:
            words, role, said = _role(words, ref, followed=bool(at))
    return Spoken(ref.rstrip(":,="), " ".join(words).strip(" ,;"), role, at, measured, note, known, said)


def _cut(pattern: re.Pattern[str], text: str) -> tuple[str, str]:
    """The text before what the pattern finds, and what stands behind it."""
    match = pattern.search(text)
    return (text, "") if match is None else (text[:match.start()], match[1].strip())


def _place(words: list[str], is_place: Callable[[str], bool], least: int, *, joined: bool,
           ) -> tuple[list[str], str, bool]:
    """(words left, places, whether they are known) from the end of the words, of which `least` stay."""
    plain = [word.strip(",;") for word in words]
    start = len(words)
    while start > least:
        size = next((n for n in range(min(LONGEST_PLACE, start - least), 0, -1)
                     if is_place(" ".join(plain[start - n:start]))), 0)
        if not size:
            break
        start -= size
    if start < len(words):
        return _unjoined(words[:start]), " ".join(plain[start:]), True
    size = _unknown_size(plain, least)
    told = joined or (size and _says_place(plain[:-size]))
    if size and told and len(words) - size >= least:
        return _unjoined(words[:-size]), " ".join(plain[-size:]), False
    return words, "", True


def _unknown_size(plain: list[str], least: int) -> int:
    """How many words at the end look like a place that nobody has named yet: 0, 1, or 2 with a section."""
    if len(plain) > least + 1 and plain[-1].lower() in _SECTIONS and _REF_LIKE.fullmatch(plain[-2]):
        return 2
    return 1 if len(plain) > least and _REF_LIKE.fullmatch(plain[-1]) else 0


def _says_place(before: list[str]) -> bool:
    """Whether the words before make what follows a place: `at`, or a role."""
    if before and before[-1].lower() in ("at", "on", "@", "of", "to"):
        return True
    ends = (" ".join(before[-n:]) for n in range(1, min(LONGEST_ROLE, len(before) - 1) + 1))
    return any(role_said(end, vague=True) for end in ends)


def _role(words: list[str], ref: str, *, followed: bool) -> tuple[list[str], str | None, str]:
    """(words left, role, its words) from the end of the words; one word at least is left as the marking."""
    plain = [word.strip(",;") for word in words]
    least = 0 if followed and not words else 1
    for size in range(min(LONGEST_ROLE, len(words) - least), 0, -1):
        said = " ".join(plain[-size:])
        role = role_said(said, vague=followed)
        role = _of_this_kind(role, ref) if role else None
        if role:
            return _unjoined(words[:-size]), role, said
    return words, None, ""


def _of_this_kind(role: str, ref: str) -> str | None:
    """The role as it is meant of such a part: the cathode capacitor bypasses the cathode resistor."""
    kinds = kinds_of(ref.rstrip(":,="), None)
    if "capacitor" in kinds and role in _AT_BYPASS:
        return _AT_BYPASS[role]
    return role if not kinds or set(kinds) & set(KINDS_OF_ROLE[role]) else None


def _unjoined(words: list[str]) -> list[str]:
    """The words without `at`, `of the` and their like at the end; the first stays."""
    words = list(words)
    while words and (words[-1].strip(",;").lower() in _JOINING[:9] or words[-1] in (",", ";", "-")):
        words.pop()
    return words
