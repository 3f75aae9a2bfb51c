"""A part as one speaks of it on one line: `C1 16 by 450 reservoir B1`, taken apart from its end."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import NamedTuple

from pipeline.notation.kinds import BEYOND
from pipeline.notation.read import kinds_of
from pipeline.notation.roles import KINDS_OF_ROLE, role_said
from pipeline.notation.states import state_said

LONGEST_ROLE = 5
"""Words that the longest name of a role has."""
LONGEST_PLACE = 4
_MEASURED = re.compile(r"(?i)(?:^|[\s,;])(?:measured|measures|reads?)(?=\s)[\s:]*(.+)$")
_NOTE = re.compile(r"(?i)(?:^|[\s,;])note(?:[:\s]\s*)(.+)$")
_JOINING = ("at", "on", "of", "to", "in", "for", "from", "the", "@", "is", "as", "a", "an")
_REF_LIKE = re.compile(r"(?i)(?!XY\d|[XY][1-4]$)[A-Z]{1,4}\d{1,3}[A-H]?|[ABCH][+-]")
"""A ref or node that is not known yet; X2 and Y1 are safety classes."""
_NODE_LIKE = re.compile(r"(?i)[BC]\d{1,2}|[BC]\+|HT\d?")
_YEAR = re.compile(r"(?:19|20)\d\d")
_BETWEEN = ("to", "and", "from", "-", "&", "between", "of", "at")
MOST_SAID = 8
"""Words that may follow role and place."""
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
    marking, so it may hold any word. Words of its state at the very end (leaking, burnt, missing) are a note, and so is
    what follows the place; an amount there belongs to the marking. `is_place` tells whether a text names one place.
    Raises ValueError for a word that may be several roles.
    """
    ref, _, rest = line.strip().partition(" ")
    rest, note = _cut(_NOTE, rest)
    rest, measured = _cut(_MEASURED, rest)
    words, state = state_said(rest.split())
    found = _ended(words, ref, is_place)
    if not found.at and found.role is None:
        found, state = _before_its_end(words, ref, is_place, found, state)
    marking, more = state_said(found.marking.split()) if found.at or found.role else (found.marking.split(), "")
    said = ", ".join(x for x in (more, state, note) if x)
    return found._replace(ref=ref.rstrip(":,="), marking=" ".join(marking).strip(" ,;"), measured=measured, note=said)


def _ended(words: list[str], ref: str, is_place: Callable[[str], bool]) -> Spoken:
    """Marking, role and places of words that end with a role or a place, if with either."""
    words = _parted(words, is_place)
    bare = len(words) > 1 and words[0].lower() in ("at", "@", "on")  # `V1 at H2`: nothing but the place
    role, at, known, said = None, "", True, ""
    for _ in range(2):
        if not at:
            words, at, known = _place(words, is_place, 0 if bare or role else 1, joined=bool(role))
        if role is None:
            words, role, said = _role(words, ref, followed=bool(at))
    return Spoken(ref, " ".join(words).strip(" ,;"), role, at, "", "", known, said)


def _before_its_end(words: list[str], ref: str, is_place: Callable[[str], bool], found: Spoken, state: str,
                    ) -> tuple[Spoken, str]:
    """The same of words that go on after role and place: an amount is the marking's, the rest is said of the part."""
    for end in range(len(words) - 1, 1, -1):
        rest = words[end:]
        if len(rest) > MOST_SAID or any(is_place(word.strip(",;")) for word in rest):
            break
        before = _ended(words[:end], ref, is_place)
        if before.role is None and not (before.at and _told(words[:end], before.at)):
            continue
        amounts = [word for word in rest if re.search(r"\d", word) and not _YEAR.fullmatch(word.strip(",;()"))]
        plain = " ".join(word for word in rest if word not in amounts).strip(" ,;")
        return before._replace(marking=" ".join([before.marking, *amounts])), ", ".join(x for x in (plain, state) if x)
    return found, state


def _told(words: list[str], at: str) -> bool:
    """Whether the words say `at` before the places that they end with."""
    before = words[:len(words) - len(at.split())]
    return bool(before) and before[-1].lower() in ("at", "on", "@", "of", "in")


def _parted(words: list[str], is_place: Callable[[str], bool]) -> list[str]:
    """`B1-B2` as two places, where both are, or look like nodes."""
    if not words:
        return words
    match = re.fullmatch(r"([A-Z]+\d*[+]?)(?:-|>|->|/)([A-Z]+\d*[+]?)", words[-1].strip(",;"), re.IGNORECASE)
    if match and len(words) > 1 and all(is_place(end) or _NODE_LIKE.fullmatch(end) for end in match.groups()):
        return [*words[:-1], match[1], "to", match[2]]
    return words


def _cut(pattern: re.Pattern[str], text: str) -> tuple[str, str]:
    """The text before what the pattern finds, and what stands behind it."""
    match = pattern.search(text)
    return (text, "") if match is None else (text[:match.start()], match[1].strip())


def _place(words: list[str], is_place: Callable[[str], bool], least: int, *, joined: bool,
           ) -> tuple[list[str], str, bool]:
    """(words left, places, whether they are known) from the end of the words, of which `least` stay."""
    plain = [word.strip(",;") for word in words]
    start, places, unknown = len(words), list[str](), 0
    known_from = start, list[str]()
    while start > least:
        skip = 1 if places and start - 1 > least and plain[start - 1].lower() in _BETWEEN else 0
        end = start - skip
        size = next((n for n in range(min(LONGEST_PLACE, end - least), 0, -1)
                     if is_place(" ".join(plain[end - n:end]))), 0)
        if not size:
            size = _unknown_size(plain[:end], least)
            unknown += bool(size)
        if not size:
            break
        start = end - size
        places.insert(0, " ".join(plain[start:end]))
        known_from = (start, list(places)) if not unknown else known_from
    ranged = len(places) == 2 and plain[start:][1:2] == ["to"] and all(map(_NODE_LIKE.fullmatch, places))
    ranged |= any(map(_NODE_LIKE.fullmatch, places)) and any(re.match(r"V\d", p, re.IGNORECASE) for p in places)
    if unknown and not (joined or ranged or _says_place(plain[:start], least)):
        start, places = known_from
        unknown = 0
        if not places and start > least and (one := _unknown_size(plain, least)) and _says_place(plain[:-one]):
            start, places, unknown = start - one, [" ".join(plain[-one:])], 1
    return (_unjoined(words[:start]), " ".join(places), not unknown) if places else (words, "", True)


def _unknown_size(plain: list[str], least: int) -> int:
    """How many words at the end look like a place that nobody has named yet: 0, 1, or 2 with a section."""
    if len(plain) > least + 1 and plain[-1].lower() in _SECTIONS and _REF_LIKE.fullmatch(plain[-2]):
        return 2
    return 1 if len(plain) > least and _REF_LIKE.fullmatch(plain[-1]) else 0


def _says_place(before: list[str], least: int = 0) -> bool:
    """Whether the words before make what follows a place: `at`, or a role."""
    if before and before[-1].lower() in ("at", "on", "@", "of", "to"):
        return True
    before = list(before)
    while len(before) > least and (_REF_LIKE.fullmatch(before[-1]) or before[-1].lower() in _BETWEEN[:4]) \
            and len(before) > 1:
        before.pop()
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
    ref = ref.rstrip(":,=")
    kinds = kinds_of(ref, None)
    if kinds and kinds[0] in BEYOND:  # its letters only suggest what it is: X1 across the line is a capacitor
        kinds = kinds_of(ref, role)
    if "capacitor" in kinds and role in _AT_BYPASS:
        return _AT_BYPASS[role]
    return role if not kinds or set(kinds) & set(KINDS_OF_ROLE[role]) else None


def _unjoined(words: list[str]) -> list[str]:
    """The words without `at`, `of the` and their like at the end; the first stays."""
    words = list(words)
    while words and (words[-1].strip(",;").lower() in _JOINING[:9] or words[-1] in (",", ";", "-")):
        words.pop()
    return words
