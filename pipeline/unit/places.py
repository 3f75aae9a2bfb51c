"""Places: refs and ids as people type them, one namespace for all of them, and what a text of places names."""

import re
import unicodedata
from collections.abc import Iterable, Mapping
from difflib import get_close_matches
from functools import lru_cache

from pipeline.notation.names import looked
from pipeline.textfile import hint, printable
from pipeline.tomlfile import Section
from pipeline.unit.model import LETTERS, Part, Place

LONGEST_ID = 200
LONGEST_PLACES = 400
MOST_HINTS = 20
"""Beyond so many unknown names the nearest is no longer looked for: it takes longer the longer the list is."""
_GREEK = str.maketrans("ΑΒΕΖΗΙΚΜΝΟΡΤΥΧ", "ABEZHIKMNOPTYX")
_PARTED = re.compile(r"[\s;]+")
_DIODES = ("diode", "rectifier")
NAMED_SECTIONS = ("triode", "pentode", "tetrode", "heptode", "hexode", "octode", *_DIODES, "unit 1", "unit 2")
"""Names of unlike sections, for tubes whose own the catalogue does not know."""


@lru_cache(maxsize=4096)  # the same few refs and ids stand in every unit
def spelled(text: str) -> str:
    """A ref or id in plain letters: full-width ones, and Cyrillic or Greek ones that look the same, in Latin.

    A word that has a letter without a Latin look-alike stays as it is.
    """
    plain = " ".join(text.split())
    if plain.isascii():
        return plain
    plain = " ".join(unicodedata.normalize("NFKC", text).split())
    latin = looked(plain).translate(_GREEK) if plain.upper() == plain else plain
    return latin if latin.isascii() else plain


@lru_cache(maxsize=4096)
def folded(text: str) -> str:
    """The key under which two spellings of one ref or id are the same: c2 and C2."""
    return spelled(text.upper()).casefold()


class Names:
    """One namespace of parts, nodes, windings and strings, and how references to them are read."""

    def __init__(self, parts: Mapping[str, Part], *, complete: bool = True):
        self.parts = parts
        self.kinds: dict[str, str] = {}
        self.complete = complete
        """False where a ref or id could not be read: then one that is not known is no fault, but an echo."""
        self._spellings: dict[str, str] = {}
        self._most_blanks = 0
        self._told: dict[tuple[str, tuple[str, ...]], str] = {}
        for ref in parts:
            self.claim(ref, "part")

    def claim(self, name: str, kind: str) -> str | None:
        """Enter a name; what it clashes with in words, or None."""
        key = folded(name)
        if (other := self._spellings.get(key)) is not None:
            said = "" if other == name else f" as {other}"
            return f"{name} is already a {self.kinds[other]}{said}"
        self._spellings[key] = name
        self._most_blanks = max(self._most_blanks, name.count(" "))
        self.kinds[name] = kind
        return None

    def claim_id(self, section: Section, kind: str) -> str:
        """The `id` of a table, entered; an empty text, and a fault, where it is missing, wrong or taken."""
        name = spelled(section.text("id", most=LONGEST_ID))
        if not name:
            self.complete = False
        elif clash := self.claim(name, kind):
            stands = "stands twice" if clash == f"{name} is already a {kind}" else clash[len(name) + 1:]
            section.fault("id", f"{name} {stands}", f"give each {kind} its own id, which no other place has")
            self.complete = False
            return ""
        return name

    def find(self, text: str, *kinds: str) -> str | None:
        """The known name that the text writes, of one of the kinds if any are given; else None."""
        name = text if text in self.kinds else self._spellings.get(folded(text))
        return name if name is not None and (not kinds or self.kinds[name] in kinds) else None

    def of_kind(self, *kinds: str) -> list[str]:
        return [name for name, kind in self.kinds.items() if kind in kinds]

    def place(self, text: str, *kinds: str) -> Place | str:
        """The place that the text writes, whole or with a section; else what is wrong with it, and how to mend it.

        Empty where it is not known, and a ref or id that could not be read may be it.
        """
        found = self._known(text, *kinds)
        return self.unknown(text, *kinds) if found is None else found

    def _known(self, text: str, *kinds: str) -> Place | str | None:
        """The same; None where nothing of that name is known."""
        if (name := self.find(text, *kinds)) is not None:
            return Place(name)
        cuts = [len(text) - 1, *(match.start() for match in re.finditer(r"\s+", text))]
        for cut in sorted(set(cuts), reverse=True) if not kinds or "part" in kinds else ():
            rest = text[cut:].strip()
            if (rest != text[cut:] or rest.upper() in LETTERS) and (ref := self.find(text[:cut], "part")) is not None:
                return _section_of(self.parts[ref], rest)
        return None

    def unknown(self, text: str, *kinds: str) -> str:
        """Why a name is not known, with the nearest; empty where that would be an echo."""
        if not self.complete:
            return ""
        if (text, kinds) not in self._told:
            self._told[text, kinds] = self._unknown(text, *kinds) if len(self._told) < MOST_HINTS else \
                f"{printable(text[:40])!r} is not known: define it, or mend its spelling"
        return self._told[text, kinds]

    def _unknown(self, text: str, *kinds: str) -> str:
        if kinds in ((), ("part", "node", "winding", "string")):
            near = hint(text, self.kinds, "define it in unit.toml as a [[winding]], [[string]] or [[supply.node]]")
            return f"{printable(text[:40])!r} is no winding, string, node or part: {near}"
        if kinds == ("part",):
            return f"no part {printable(text[:40])!r} in parts.csv: {hint(text, self.of_kind('part'), 'add it there')}"
        known = self.of_kind(*kinds)
        near = hint(text, known, "known: " + ", ".join(known[:8]) if known else "define it in unit.toml")
        return f"no {' or '.join(kinds)} {printable(text[:40])!r}: {near}"

    def places(self, text: str) -> tuple[list[Place], list[str]]:
        """The places that a text names, with blanks or semicolons between, and what is wrong with it.

        It is first taken whole, then split so that each name is as long as it can be.
        """
        if (whole := self.find(text)) is not None:
            return [Place(whole)], []
        if len(text) > LONGEST_PLACES:
            return [], [f"longer than {LONGEST_PLACES} letters: name only the places where it hangs"]
        words = [w for w in _PARTED.split(text) if w]
        found: list[Place] = []
        faults: list[str] = []
        while words:
            for size in range(min(len(words), self._most_blanks + 3), 0, -1):
                place = self._known(" ".join(words[:size]))
                if isinstance(place, Place):
                    break
            if isinstance(place, Place):
                found.append(place)
            else:
                told = self.unknown(words[0]) if place is None else place
                faults.append(self._no_place(words[0], found[-1:], told))
            words = words[size:]
        return list(dict.fromkeys(found)), [f for f in faults if f]

    def _no_place(self, word: str, before: list[Place], told: str) -> str:
        """Why a word is no place: perhaps it is a slip in the section of the part before it."""
        part = self.parts.get(before[0].ref) if before else None
        sections = () if part is None else (*part.sections, *NAMED_SECTIONS)
        if told and part is not None and get_close_matches(word.casefold(), sections, 1, 0.5):
            return str(_section_of(part, word))
        return told

    def part(self, section: Section, key: str) -> str | None:
        """The ref of a part under a key that holds one; None where there is none, or it is not known."""
        if key not in section.data:
            return None
        refs = self._refs(section, key, [section.text(key)], "part")
        return refs[0] if refs else None

    def part_refs(self, section: Section, key: str) -> tuple[str, ...]:
        """The refs of parts under a key that holds one or several."""
        return tuple(self._refs(section, key, section.texts(key), "part"))

    def name(self, section: Section, key: str, *kinds: str) -> str | None:
        """The node, winding or string under a key; None where there is none, or it is not known."""
        if key not in section.data:
            return None
        names = self._refs(section, key, [section.text(key)], *kinds)
        return names[0] if names else None

    def _refs(self, section: Section, key: str, texts: Iterable[str], *kinds: str) -> list[str]:
        found = []
        for text in filter(None, texts):
            if (name := self.find(text, *kinds)) is not None:
                found.append(name)
            elif told := self.unknown(text, *kinds):
                section.fault(key, *told.split(": ", 1))
        return found

    def sections(self, section: Section, key: str) -> tuple[Place, ...]:
        """The parts, or sections of parts, under a key that holds one or several."""
        found = (self.part_place(section, key, text) for text in section.texts(key))
        return tuple(place for place in found if place is not None)

    def of_kinds(self, section: Section, key: str, places: Iterable[Place], *kinds: str) -> None:
        """Note each place that is a part of none of these kinds; one whose marking is not known may be any."""
        for place in places:
            part = self.parts[place.ref]
            if part.kind is not None and part.kind not in kinds:
                article = "an" if part.kind[0] in "aeiou" else "a"
                section.fault(key, f"{place} ({part.shown}) is {article} {part.kind}", f"name a {' or '.join(kinds)}")

    def part_place(self, section: Section, key: str, text: str) -> Place | None:
        """The part, or section of one, that a text under a key names; None, and a fault, where it is not known."""
        place = self.place(text, "part")
        if isinstance(place, Place):
            return place
        if place:
            section.fault(key, *place.split(": ", 1))
        return None


def _section_of(part: Part, word: str) -> Place | str:
    """The section of a part that stands behind its ref, or what is wrong with it."""
    known, said = part.sections, " ".join(word.split()).casefold()
    own = re.findall(r"[a-z]+", part.function or "")
    if not known and said not in _DIODES and [w for w in own if w in NAMED_SECTIONS and w not in _DIODES] == [said]:
        return Place(part.ref)  # its only section by name: the triode of a double diode triode
    if said.rstrip(" 123") in _DIODES and said.rstrip(" 123") in own:
        return Place(part.ref, said)
    unread = part.kind is None or (part.kind == "tube" and not (part.ratings and part.ratings.rows("sections")))
    if part.kind == "capacitor" and word.upper() == "A" and not known:
        return Place(part.ref)
    for name in (*known, *((*LETTERS, *NAMED_SECTIONS) if unread else ())):
        if name.casefold() == said:
            return Place(part.ref, name)
    shown = printable(word[:20])
    if not known:
        return f"{part.ref} ({part.shown}) has no sections, so there is no {shown!r} of it: write {part.ref}"
    written = [str(Place(part.ref, name)) for name in known]
    return f"{part.ref} ({part.shown}) has no section {shown!r}: write {' or '.join(written)}"
