"""What a pin does, in words: `t_g+h_g3` is `triode grid + hexode grid 3`."""

import re
from collections.abc import Collection, Iterable, Mapping
from itertools import groupby
from typing import NamedTuple

WORDS = {"h": "heater", "f": "filament", "p": "plate", "a": "plate", "k": "cathode", "g": "grid",
         "nc": "no connection", "ic": "internal, leave free", "is": "shield", "s": "shield",
         "bp": "beam plates",
         "shell": "shell", "tap": "heater tap", "ct": "heater centre tap"}
_TAPS = {"f_ct", "h_ct"}
_GRIDS = {"g1": "control grid", "g2": "screen", "g3": "suppressor"}
"""What the numbered grids of tetrodes and pentodes are called; those of hexodes and up keep their numbers."""
_MANY_GRIDS = frozenset(("g4", "g5", "g6"))
_OTHER_WORK = frozenset(("46", "49", "52", "3BN6", "6BN6", "12BN6"))
"""Types with two or three grids of other work: power triodes with two control grids, gated-beam tubes (recalled)."""
_FAMILIES = {"t": "triode", "p": "pentode", "d": "diode", "o": "oscillator", "h": "hexode"}
_PIECE = re.compile(r"^(?:(t\d?|p\d?|h\d?|d\d?|o)_)?(.+)$")
_NUMBERED = re.compile(r"^([a-z]+)(\d+)$")
HEATERS, PLATES, IDLE = {"h", "f", "tap", "ct"}, {"p", "a"}, {"nc", "ic"}


class Piece(NamedTuple):
    """One electrode at a pin, with the section it belongs to ('' where shared)."""

    section: str
    electrode: str


class PinWords(NamedTuple):
    """A pin (a number, or `cap`), its function in words, and what to draw: heater, plate, idle or plain."""

    pin: str
    words: str
    look: str


def pin_words(pins: Iterable[Mapping[str, object]]) -> list[PinWords]:
    """The pins of one tube in words, in the order of their numbers, the cap last.

    Parameters
    ----------
    pins : rows of the `pins` table (keys `pin`, `section`, `electrode`); a pin that stands twice is joined by ` / `.

    Notes
    -----
    Sections that only a number tells apart are called by it (`plate, section 1`). Section `h` is a heptode where it
    has a grid 5 in the map, else a hexode. Grids of tetrodes and pentodes have their names, not their numbers.
    """
    pieces: dict[str, list[list[Piece]]] = {}
    types = set()
    for row in pins:
        pieces.setdefault(str(row["pin"]).strip(), []).append(_split(row))
        types.add(row.get("type"))
    every = [p for many in pieces.values() for one in many for p in one]
    named = () if types & _OTHER_WORK else _plain_sections(every)
    names = _section_names(every)
    return [PinWords(pin, " / ".join(dict.fromkeys(_say(one, names, named) for one in pieces[pin])), _look(pieces[pin]))
            for pin in sorted(pieces, key=_order)]


def _plain_sections(pieces: list[Piece]) -> set[str]:
    """Sections with three grids at most, whose grids go by name."""
    return {p.section for p in pieces} - {p.section for p in pieces if p.electrode in _MANY_GRIDS or p.section == "h"}


def _order(pin: str) -> tuple[int, int, str]:
    if pin.isdecimal() and len(pin) < 5:
        return (0, int(pin), "")
    return (2, 0, "") if pin == "cap" else (1, 0, pin)


def _split(row: Mapping[str, object]) -> list[Piece]:
    section, found = str(row.get("section") or ""), []
    for part in str(row.get("electrode") or "").split("+"):
        match = _PIECE.match(part.strip())
        if match:
            section = match[1] or section
            found.append(Piece("", "ct") if match[2] in _TAPS or (section, match[2]) == ("h", "ct") else
                         Piece(section, match[2]))
    return found


def _section_names(pieces: list[Piece]) -> dict[str, str]:
    sections = {p.section for p in pieces if p.section}
    families = {s.rstrip("0123456789") for s in sections}
    heptode = any(p.section.startswith("h") and p.electrode == "g5" for p in pieces)
    names = {}
    for section in sections:
        family = section.rstrip("0123456789")
        number = section[len(family):]
        word = "heptode" if family == "h" and heptode else _FAMILIES.get(family, family)
        names[section] = f", section {number}" if number and len(families) == 1 else f"{word} {number}".strip()
    return names


def _say(pieces: list[Piece], names: dict[str, str], named: Collection[str]) -> str:
    """The electrodes of one pin, those of one section together, with the section's name once."""
    said = []
    for section, group in groupby(pieces, key=lambda piece: piece.section):
        electrodes = [p.electrode for p in group]
        words = " + ".join(_GRIDS.get(e) or electrode_word(e) for e in electrodes) if section in named else \
            _numbered(electrodes)
        name = names.get(section, "")
        said.append(words + name if name.startswith(",") else f"{name} {words}".strip())
    return " + ".join(said) or "not stated"


def _numbered(electrodes: list[str]) -> str:
    """Electrodes of a section of many grids: `grids 2 + 4`, `cathode + grid 5`."""
    said: list[str] = []
    grids = None
    for electrode in electrodes:
        numbered = _NUMBERED.match(electrode)
        grid = numbered[2] if numbered and numbered[1] == "g" else None
        if grid and grids:
            said[-1] = said[-1].replace("grid ", "grids ") + f" + {grid}"
        else:
            said.append(electrode_word(electrode))
        grids = grid
    return " + ".join(said)


def electrode_word(electrode: str) -> str:
    """`g2` is `grid 2`; what is not known stays as it is written."""
    numbered = _NUMBERED.match(electrode)
    if electrode in WORDS:
        return WORDS[electrode]
    return f"{WORDS[numbered[1]]} {numbered[2]}" if numbered and numbered[1] in WORDS else electrode


def _look(rows: list[list[Piece]]) -> str:
    found = {p.electrode.rstrip("0123456789") for one in rows for p in one}
    for look, names in (("heater", HEATERS), ("plate", PLATES)):
        if found & names:
            return look
    return "idle" if found and found <= IDLE else "plain"
