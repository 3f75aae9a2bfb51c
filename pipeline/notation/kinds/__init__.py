"""The registry of kinds of part: what names each, which refs suggest it, what its marking can hold.

Every module beside this one is a family and gives its kinds in ``KINDS``; a further kind is an entry there (or a
file of its own) and a row in the table ``care`` that says what to do about such a part.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from functools import cache
from importlib import import_module

from pipeline.notation.kinds.kind import Kind

__all__ = ["BEYOND", "ELECTRONIC", "KINDS", "NAMES", "Kind", "kinds_of_ref", "named", "read_kind", "without_words"]

_FIRST = "electronics"
_AFTER = (
    r"(?i)\s(?:for|of|with|w/o?|from|mit|m\.|für|pour|avec|con|per|met|voor|s|для|с|less|without|ohne|sans)(?=[\s0-9])"
)
_GERMAN = ("kondensator", "widerstand", "drossel", "trafo", "schalter", "regler", "lampe", "sicherung", "riemen",
           "batterie", "lautsprecher", "fassung", "kopf", "röhre", "elko", "spule", "stecker", "buchse", "relais",
           "motor")
"""Words that end German compounds: a Siebdrossel is a choke, a Netzschalter a switch."""
_LONGER_THAN = 6  # letters: a compound is at least three and a word
_ENDINGS = ("", "n", "s", "en", "es")
_APART = r"[\s\-]+"
_ENDED = r"(?=(?:e?[ns])?(?![^\W\d_]|-in\b))"
"""What may follow a word that names a kind: an ending, then no letter; `-in` makes a property of it."""
_VAGUE = {"rectifier": "tube or diode", "variable": "potentiometer or tuning capacitor", "coil/choke": "coil or choke",
          "part": "", "other": "hardware"}


def _gathered() -> dict[str, Kind]:
    """Every kind by name, the electronic ones first, then in the order of the files' names."""
    files = {name.removesuffix(".py") for place in __path__ for name in os.listdir(place) if name[0] != "_"} - {"kind"}
    found: dict[str, Kind] = {}
    for family in sorted(files, key=lambda name: (name != _FIRST, name)):
        for kind in import_module(f"{__name__}.{family}").KINDS:
            if kind.name in found:
                raise ValueError(f"the kind {kind.name} stands in two families")
            found[kind.name] = kind
    return found


KINDS: dict[str, Kind] = _gathered()
"""Name → kind."""
NAMES = tuple(KINDS)
ELECTRONIC = tuple(name for name, kind in KINDS.items() if kind.electronic)
"""Kinds that are known by their marking alone."""
BEYOND = tuple(name for name, kind in KINDS.items() if not kind.electronic)
"""Kinds that are known by their name, ref or the column ``kind``."""


@cache
def _by_ref() -> dict[str, tuple[str, ...]]:
    found: dict[str, tuple[str, ...]] = {}
    for name, kind in KINDS.items():
        for letters in kind.refs:
            found[letters] = (*found.get(letters, ()), name)
    found["L"] = ("choke", "lamp", "coil")
    found["P"] = ("potentiometer", "connector")
    return found


def kinds_of_ref(letters: str) -> tuple[str, ...]:
    """Return the kinds that the letters of a ref suggest, likeliest first; () where they say nothing."""
    return _by_ref().get(letters.upper(), ())


@cache
def _words() -> dict[str, str]:
    """Word that names a kind → the kind; two kinds of one word are a fault of the registry."""
    found: dict[str, str] = {}
    for name, kind in KINDS.items():
        for word in (name, *kind.words):
            if found.setdefault(word, name) != name:
                raise ValueError(f"the word {word!r} names {found[word]} and {name}")
    return found


@cache
def _by_first_letters() -> dict[str, list[list[str]]]:
    """The letters that a word or phrase begins with → those that do, in their parts, longest first."""
    found: dict[str, list[list[str]]] = {}
    for word in sorted(_words(), key=len, reverse=True):
        found.setdefault(re.split(r"[\W\d_]", word, maxsplit=1)[0], []).append(re.split(_APART, word))
    return found


def _spoken(text: str) -> Iterator[tuple[str, int, int]]:
    """Find the words of a text that name a kind: (word, start, end), from left to right, the longest at each place.

    One pattern of all the words would take longer to compile than the reading of a whole parts list.
    """
    end = 0
    for letters in re.finditer(r"[^\W\d_]+", text):
        if letters.start() >= end and (found := _spoken_at(text, letters)) is not None:
            start, end = found
            yield _plain(text[start:end]), start, end


def _spoken_at(text: str, letters: re.Match[str]) -> tuple[int, int] | None:
    first = letters[0].lower()
    for ending in _ENDINGS:
        for parts in _by_first_letters().get(first.removesuffix(ending), ()) if first.endswith(ending) else ():
            if (end := _end_of(text, letters.start(), parts)) is not None:
                return letters.start(), end
    if len(first) > _LONGER_THAN and first.endswith(tuple(word + ending for word in _GERMAN for ending in _ENDINGS)):
        pattern = rf"(?i)(?<=[a-zäöüß][a-zäöüß][a-zäöüß])(?:{'|'.join(_GERMAN)}){_ENDED}"
        match = re.compile(pattern).search(text, letters.start())
        return match.span() if match and match.start() < letters.end() else None
    return None


def _end_of(text: str, at: int, parts: list[str]) -> int | None:
    """Return where the parts of a phrase, which begin at a place of a text, end; None where others stand there."""
    for i, part in enumerate(parts):
        gap = re.compile(_APART).match(text, at) if i else None
        if i and gap is None:
            return None
        at = gap.end() if gap else at
        if text[at : at + len(part)].lower() != part:
            return None
        at += len(part)
    return at if re.compile(f"(?i){_ENDED}").match(text, at) else None


def named(text: str, likely: tuple[str, ...] = ()) -> str | None:
    """Return the kind that the words of a marking name, or None.

    Parameters
    ----------
    text : str
        A marking as `lexing.clean` leaves it.
    likely : tuple of str
        Kinds that ref or role suggest: one of them beyond electronics counts wherever its word stands.

    Of several words the last one counts (a *motor switch* is a switch, an *output transformer* a transformer);
    what follows `for`, `with` and their like is left aside (a *pot with switch* is a potentiometer).
    """
    head = re.split(_AFTER, f" {text}", maxsplit=1)[0].strip()
    found = _all(head or text)
    return next((kind for kind in found if kind in likely and kind in BEYOND), found[-1] if found else None)


def without_words(name: str, text: str) -> str:
    """Return a text without the words that name a kind: they say nothing more once it is known."""
    kept, at = "", 0
    for word, start, end in _spoken(text):
        if _words_plain()[word] == name:
            kept, at = f"{kept}{text[at:start]} ", end
    return " ".join((kept + text[at:]).split())


def _all(text: str) -> list[str]:
    """Return the kinds that words of a text name, in their order."""
    return [_words_plain()[word] for word, _, _ in _spoken(text)]


@cache
def _words_plain() -> dict[str, str]:
    return {_plain(word): name for word, name in _words().items()}


def _plain(word: str) -> str:
    return re.sub(r"[\s\-]+", " ", word.lower())


def read_kind(text: str) -> str:
    """Return the kind that a person wrote in the column ``kind``.

    Parameters
    ----------
    text : str
        Any case, plural, other words of the trade (trafo, pot, loudspeaker), small slips of spelling.

    Returns
    -------
    str
        One of `NAMES`.

    Raises
    ------
    ValueError
        Not known, or a word for several kinds; the message names the nearest.
    """
    key = _plain(" ".join(text[:60].replace("_", " ").split()))
    words = _words_plain()
    for each in (key, key.removesuffix("s"), key.removesuffix("es")):
        if each in words:
            return words[each]
    if key not in _VAGUE and (inside := named(key)):
        return inside  # an output transformer is a transformer
    if key in _VAGUE:
        hint = _VAGUE[key] or "leave it empty"
        raise ValueError(f"{text.strip()[:40]!r} is no one kind: write {hint}")
    from difflib import get_close_matches  # only for what is not known at once

    close = list(dict.fromkeys(words[each] for each in get_close_matches(key, words, n=3, cutoff=0.84)))
    if len(close) == 1:
        return close[0]
    near = close or list(dict.fromkeys(words[each] for each in get_close_matches(key, words, n=3, cutoff=0.5)))
    hint = f"nearest: {', '.join(near)}" if near else f"known are: {', '.join(NAMES)}"
    raise ValueError(f"unknown kind {text.strip()[:40]!r}; {hint}")
