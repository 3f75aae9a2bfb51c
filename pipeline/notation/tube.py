"""Tube names as printed and as people write them, against an index of known names.

The naming habits followed (blanks, hyphens, suffixes, O for zero) are those of the RETMA system as the
Radiotron Designer's Handbook, 4th ed. (AWV), describes it; military prefixes and look-alike Cyrillic are
trade habit.
"""

from __future__ import annotations

import re
from collections.abc import Callable

from pipeline.notation.lexing import speaks_of
from pipeline.notation.names import OTHER_BASE, SAME, Entry, Index, index, looked, normal, plain_figures, spoken
from pipeline.notation.reading import Reading, Refusal, unread
from pipeline.records import replace

__all__ = ["index", "normal", "read_tube"]

_PREFIX = (
    r"(?:U\.?S\.?\s*(?:ARMY|NAVY|N\.?|A\.?F\.?)|JAN|JHS|JRP|MIL|USN|USAF)(?![A-Z0-9])[\s-]*"
    r"(?:C[A-Z]{2,3}[\s-]+)?"
)
_SUFFIX = r"(?:GT?[A-EXY]?|WGT?[ABC]?|GTW[ABC]?|GTX|GTY|W[AB]?|WXT|EH|STR|[A-FHL-NPQRSXY])"
_RETMA = r"([0-9]{1,3}[A-HJ-NP-Z]{1,3}[0-9]{1,2})"
_LATER_VERSION = r"W?[AB]"
"""What a maker adds to a type that still takes its place in every socket."""
_AMOUNT = (
    r"(?i)(?<![^\W_])[0-9][0-9.,/]*\s?(?:hy|hys|henr\w+|mh|ma|amps?|ohms?|Ω|kΩ|MΩ|volts?|watts?|mfd|mmfd?|[µupn]f|"
    r"meg(?:ohms?)?|kohms?|hz|%)(?![^\W_])"
)
"""A number with a unit that no tube's name ends in: what bears one is no tube."""
_WORDS = {"TUBE", "VALVE", "TYPE", "ROHRE", "RÖHRE", "NO", "OR", "USA", "MADE", "IN", "NOS"}


def read_tube(text: str, known: Index, *, expected: bool = False) -> Reading | None:
    """Read a tube's marking.

    Parameters
    ----------
    text : str
        A marking as `lexing.clean` leaves it.
    known : Index
        Every known name.
    expected : bool
        True where ref or role says that it is a tube: then what cannot be found is unread with the nearest
        names, else None.

    Returns
    -------
    Reading or None
        ``via`` says how the name was recognised.

    Raises
    ------
    Refusal
        Names of two types, or a name with a suffix that makes another type of it.
    """
    found = _whole(text, known) or _parts(text, known) or _words(text, known)
    if found or not (expected or _looks_like_one(text)):
        return found
    name = _without_prefix(text)[0]
    near = known.near(name) or known.near(name.split()[0])
    return unread(f"no tube of the name {text[:60]!r} in the catalogue", near=near)


def _looks_like_one(text: str) -> bool:
    key = plain_figures(normal(text))
    return re.fullmatch(rf"{_RETMA}{_SUFFIX}?|[A-Z]{{2,4}}[0-9]{{2,4}}[A-Z]?", key) is not None


def _whole(text: str, known: Index) -> Reading | None:
    """Look the whole text up: as it stands, without military prefix, slips mended, suffix dropped."""
    name, prefix = _without_prefix(text)
    for attempt in (_exact,) if _split_figures(name) else (_exact, _cyrillic, _figures, _bulb_or_premium):
        found = attempt(name, known)
        if found and prefix:
            return _via(found, f"{found.via}, military prefix {prefix} left off")
        if found:
            return found
    return None


def _without_prefix(text: str) -> tuple[str, str]:
    match = re.match(_PREFIX, text.upper()) if speaks_of(text[:1], "u", "j", "m") else None
    if not match or match.end() == len(text):
        return text, ""
    return text[match.end() :], text[: match.end()].strip(" -")


def _via(found: Reading, via: str) -> Reading:
    return replace(found, via=via)


def _figures_only(name: str) -> bool:
    return re.fullmatch(r"[0-9]+", normal(name)) is not None


def _split_figures(name: str) -> bool:
    """Tell whether a name of figures is parted: 16 450 is no tube 16450, and 1/2 A none of the name 12A."""
    if re.fullmatch(r"[0-9]{1,2}/[0-9]{1,2}\s*[AVWH]", name, re.IGNORECASE):
        return True
    return _figures_only(name) and re.search(r"[0-9][^0-9]+[0-9]", name) is not None


def _exact(name: str, known: Index) -> Reading | None:
    entries = known.exact(name)
    if not entries:
        return None
    if _split_figures(name) and entries[0].printed != name:
        return None  # 16 450 is no tube 16450; 35/51 is, where the catalogue prints it so
    if normal(entries[0].type) == normal(name):
        return _tube(entries, "catalogue name", name)
    return _tube(entries, _other(entries[0]), name)


def _other(entry: Entry) -> str:
    return f"other name: {entry.printed} ({entry.system})" if entry.system else f"other name: {entry.printed}"


def _tube(entries: list[Entry], via: str, name: str) -> Reading:
    """Make the reading, or refuse a name that two types bear."""
    types = tuple(sorted({entry.type for entry in entries}))
    if len(types) > 1:
        told = sorted(f"{entry.type} ({entry.system})" if entry.system else entry.type for entry in entries)
        raise Refusal(f"{name} is a name of {' and of '.join(told)}: write the type that is meant", near=types)
    notes: tuple[str, ...] = ()
    if entries[0].nearness == OTHER_BASE:
        notes = (f"{name} has another base than {types[0]}: its figures are the same, its pins are not",)
    elif entries[0].nearness != SAME:
        notes = (f"{name} is only near to {types[0]}: some figure differs",)
    return Reading(kind="tube", type=types[0], via=via, notes=notes, bare=_figures_only(name))


def _cyrillic(name: str, known: Index) -> Reading | None:
    key = normal(name)
    if key.isascii():
        return _latin_for_cyrillic(key, known)
    by_sound, by_look = known.transliterated(key), known.lookalike(key)
    native = [entry for entry in by_sound if not entry.printed.isascii()]
    entries = native or by_sound or by_look
    if not native and {e.type for e in by_sound} and {e.type for e in by_look} - {e.type for e in by_sound}:
        entries = by_sound + by_look
    if not entries:
        return None
    letters = "letters transliterated" if native or by_sound else "letters that look the same"
    return _tube(entries, f"Cyrillic {name.upper()} ({entries[0].printed}), {letters}", name)


def _latin_for_cyrillic(key: str, known: Index) -> Reading | None:
    """Find 6Н8С where 6H8C was typed: Latin letters that look like the Cyrillic ones on the bulb."""
    entries = [e for e in known.lookalike(key) + known.transliterated(key) if not e.printed.isascii()]
    if entries:
        return _tube(entries, f"Cyrillic {entries[0].printed}, typed in Latin letters", key)
    if not re.fullmatch(r"[0-9]{1,2}[ABEKMHPCTX][0-9]{1,2}C", key):
        return None
    back = key.translate(str.maketrans("ABEKMHPCTX", "АВЕКМНРСТХ"))
    entries = [e for e in known.transliterated(spoken(back)) if _soviet(e) and looked(back) == key]
    return _tube(entries, f"Cyrillic {back} ({entries[0].printed})", key) if entries else None


def _soviet(entry: Entry) -> bool:
    return any(word in entry.system.lower() for word in ("soviet", "russia", "cyrillic", "gost"))


def _figures(name: str, known: Index) -> Reading | None:
    entries = known.with_figures(name)
    if not entries:
        return None
    key, printed = normal(name), normal(entries[0].printed)
    if len(key) != len(printed):
        return None
    slips = {(a, b) for a, b in zip(key, printed, strict=True) if a != b}
    words = {
        ("O", "0"): "with letter O read as zero",
        ("0", "O"): "with zero read as letter O",
        ("I", "1"): "with letter I read as one",
        ("1", "I"): "with one read as letter I",
    }
    via = ", ".join(sorted(words[slip] for slip in slips))
    return _tube(entries, f"{entries[0].printed} {via}", name)


def _bulb_or_premium(name: str, known: Index) -> Reading | None:
    """Fall back on the same type in another bulb, or on the type before a premium suffix.

    Only where the name itself is not known.  A shouldered-bulb C, GA or GB version (6L6GC, 5U4GB) is a
    stronger tube of its own and never falls back.
    """
    key = normal(name)
    match = re.fullmatch(rf"{_RETMA}(W?)(GT|G)?(W?[ABC]?)", key)
    if match:
        base, bulb, suffix = match[1], match[3] or "", match[2] + match[4]
        if not suffix:
            return _other_bulb(name, base, known)
        return None if bulb == "G" else _premium(name, base, bulb, suffix, known)
    match = re.fullmatch(r"([0-9]{4})(W?[AB]?)", key)
    return _premium(name, match[1], "", match[2], known) if match and match[2] else None


def _premium(name: str, base: str, bulb: str, suffix: str, known: Index) -> Reading | None:
    entries = known.exact(base + bulb)
    if not entries and bulb:
        entries = _bulbs(base, known)
    if not entries:
        return None
    plain = entries[0].printed
    found = _tube(entries, f"{plain}, the suffix {suffix} left off: ratings may differ", name)
    return found.noted(f"{name} is not in the catalogue; the figures are those of {plain} and may differ")


def _other_bulb(name: str, base: str, known: Index) -> Reading | None:
    entries = _bulbs(base, known)
    if not entries:
        return None
    printed = entries[0].printed
    found = _tube(
        entries, f"{name} read as {printed}: only the bulb suffix differs, ratings may differ", name
    )
    return found.noted(f"{name} is not in the catalogue; the figures are those of {printed}")


def _bulbs(base: str, known: Index) -> list[Entry]:
    """Return the one type known under this base with no suffix, G or GT; nothing if there are several."""
    entries = [entry for suffix in ("", "GT", "G") for entry in known.exact(base + suffix)]
    return entries if len({entry.type for entry in entries}) == 1 else []


def _parts(text: str, known: Index) -> Reading | None:
    """Read a double name such as 6GW8/ECL86 or ECL86 (6GW8)."""
    parts = [
        part.strip() for part in re.split(r"[/=,;()]|\bor\b|(?<=[A-Za-z0-9])-(?=[A-Za-z]{2,4}[0-9])", text)
    ]
    parts = [part for part in parts if part]
    if len(parts) < 2 or len(parts) > 4:
        return None
    if any(re.fullmatch(_SUFFIX, part.upper()) and part.upper() not in ("G", "GT") for part in parts):
        return None
    names = [part for part in parts if not re.fullmatch(r"(?i)GT?|[^\W\d_]{2,}", part)]
    each = [(name, _whole(name, known) or _words(name, known)) for name in names]
    found = [(name, reading) for name, reading in each if reading]
    if not found or (len(found) == 1 and found[0][1].bare):
        return None
    types = sorted({str(reading.type) for _, reading in found}, key=lambda name: (len(name), name))
    if len(types) == 2 and re.fullmatch(re.escape(types[0]) + _LATER_VERSION, types[1]):
        found = [pair for pair in found if pair[1].type == types[1]]  # 12AX7A/ECC83: the closer name is meant
    elif len(types) > 1:
        raise Refusal(
            f"it names {' and '.join(sorted(types))}, two types of the catalogue: write the one that is fitted"
        )
    best = next((r for _, r in found if r.via == "catalogue name"), found[0][1])
    if len(found) > 1:
        best = _via(best, f"{len(found)} names of one type: {', '.join(name for name, _ in found)}")
    missing = [name for name, reading in each if not reading]
    return best.noted(f"not known and left out: {', '.join(missing)}") if missing else best


def _amount_beside(text: str) -> bool:
    return re.search(_AMOUNT, text) is not None


def _words(text: str, known: Index) -> Reading | None:
    """Find one name among maker's words: RCA 6V6-GT, Telefunken ECC83 W.Germany."""
    words = text.replace("(", " ").replace(")", " ").split()
    if not 2 <= len(words) <= 12 or _amount_beside(text):
        return None
    for size in range(min(4, len(words) - 1), 0, -1):
        windows = [(i, " ".join(words[i : i + size])) for i in range(len(words) - size + 1)]
        found = [(i, r) for i, name in windows if (r := _named(name, known))]
        if found:
            return _with_rest(words, size, found)
    return None


def _named(name: str, known: Index) -> Reading | None:
    attempts: tuple[Callable[[str, Index], Reading | None], ...] = (
        _exact,
        _cyrillic,
        _figures,
        _bulb_or_premium,
    )
    if not any(char.isdigit() for char in name) or _split_figures(name):
        return _exact(name, known) if _split_figures(name) else None
    return next((found for attempt in attempts if (found := attempt(name, known))), None)


def _with_rest(words: list[str], size: int, found: list[tuple[int, Reading]]) -> Reading | None:
    """Accept a name found among words, unless the rest could change what it means."""
    types = sorted({str(reading.type) for _, reading in found})
    if len(types) > 1:
        raise Refusal(
            f"it names {' and '.join(types)}, two types of the catalogue: write the one that is fitted"
        )
    at, reading = found[0]
    rest = words[:at] + words[at + size :]
    if at + size < len(words) and re.fullmatch(_SUFFIX, words[at + size].upper().strip("-")):
        name = " ".join(words[at : at + size])
        raise Refusal(f"{name} {words[at + size]} is not in the catalogue, and is not taken for {name}")
    if any(
        re.fullmatch(r"(?i)[0-9.,/]+(?:[kmµunp]?(?:v|w|f|Ω|a)|vac|vdc|wv|ohms?|%|mfd|mmf)", word)
        for word in rest
    ):
        return None  # a value with a unit beside it: no tube is marked so
    if reading.bare and any(any(char.isdigit() for char in word) for word in rest):
        return None
    left_out = [word for word in rest if word.upper().strip(".,:") not in _WORDS]
    return reading.noted(f"left out: {' '.join(left_out)}") if left_out else reading
