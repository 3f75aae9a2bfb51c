"""Potentiometers: 500k pot w/ switch, 2x 500k log, 1 M lin m. Sch., 500kA, A500K."""

from __future__ import annotations

import re

from pipeline.notation.lexing import speaks_of
from pipeline.notation.reading import Reading, Refusal, unread
from pipeline.notation.resistor import read_resistor
from pipeline.records import replace

_LOG = (
    r"log(?:\.|arithmic|arithmisch|aritmico|arithmique)?|audio(?:\s+taper)?|pos\.?\s*log\.?|\+\s*log|a[\s-]*taper|лог"
)
_ANTILOG = r"(?:anti|rev(?:erse)?|neg)\.?[\s-]*(?:log|audio)\.?(?:\s+taper)?|-\s*log|c[\s-]*taper|e-log"
_LINEAR = r"lin(?:\.|ear|eare|ear\s+taper|éaire)?|b[\s-]*taper"
_TAPERS = (("antilog", _ANTILOG), ("log", _LOG), ("linear", _LINEAR))
_SWITCH = (
    r"(?:(?:w/|with|and|\+|m\.|mit|avec|con|met|с)\s*(?:power\s+|mains\s+)?(?:sw(?:itch)?\.?|sch(?:alter)?\.?|inter(?:rupteur)?\.?|"
    r"int(?:erruttore)?\.?|schak(?:elaar)?\.?|выкл\w*\.?|dpst|spst|on[/-]off)|switched|w/sw|a\.?\s*inter)"
)
_WITHOUT = (
    r"(?:less|without|ohne|sans|senza|zonder|без)\s+"
    r"(?:switch|schalter|inter(?:rupteur)?|interruttore|schakelaar|выкл\w*)"
)
_GANG = r"(?:(?:dual|twin|tandem|double|stereo)(?:[\s-]*gang(?:ed)?)?|2[\s-]*gang(?:ed)?|ganged|doppel|сдвоенный)"
_TAP = r"(?:tap(?:ped)?|abgriff|prise)(?:\s*(?:at|@|bei))?\s*[0-9.,]+\s*(?:meg|[kKM])?(?:Ω|ohms?)?|loudness\s+tap"
_WORDS = (
    r"(?:pots?|potentiometers?|poti|potmeter|control|volume|tone|gain|bass|treble|balance|hum|bias|preset|rheostat|variable|"
    r"resistor|wire[\s-]?wound|carbon|potentiomètre|potenziometro|регулятор|потенциометр|сп-?[0-9I]*|вк|тк|taper|regler|"
    r"lautstärkeregler|channel|presence|mixer|shaft|ww|linéaire|pre-?set|trim(?:mer|pot)?)"
)
_SAYS = {
    "antilog": ("log", "audio", "taper"), "log": ("log", "audio", "taper", "лог"), "linear": ("lin", "taper"),
    "switchless": ("less", "without", "ohne", "sans", "senza", "zonder", "без"),
    "switch": ("sw", "sch", "int", "выкл", "pst", "on/off", "on-off"), "tap": ("tap", "abgriff", "prise"),
    "gang": ("dual", "twin", "tandem", "double", "stereo", "gang", "doppel", "сдвоенный"),
}  # fmt: skip
"""What of a pattern must stand in a marking for it to be tried."""
_LETTER = {"A": "log", "B": "linear", "C": "antilog"}  # Japanese and later American habit
_UNMARKED = "its ohms are not marked: measure end to end"
_EDGE = r"(?<![^\W_])(?:{})(?![^\W_])"


def read_potentiometer(text: str, expected: bool) -> Reading | None:
    """Read a potentiometer's marking.

    Parameters
    ----------
    text : str
        A marking as `lexing.clean` leaves it.
    expected : bool
        True where a word, ref or column says what it is; else it must name a taper, gangs or a switch.

    Returns
    -------
    Reading or None
        Ohms of one whole track; taper log, linear or antilog; number of tracks; whether a switch is on it.

    Raises
    ------
    Refusal
        Ohms that can be two values.
    """
    rest, taper = text, None
    for name, pattern in _TAPERS:
        if taper is None and speaks_of(rest, *_SAYS[name]) and re.search(_edged(pattern), rest):
            taper, rest = name, re.sub(_edged(pattern), " ", rest)
    rest, _ = _without("switchless", _edged(_WITHOUT), rest)
    rest, switches = _without("switch", r"(?i)" + _SWITCH + r"(?![^\W_])", rest)
    rest, taps = _without("tap", _edged(_TAP), rest)
    rest, gangs = _without("gang", _edged(_GANG), rest)
    twice = re.match(r"\s*2\s*x\s*(?=[0-9.])|.*?(?=\s+x\s*2\s*$)", rest)
    if twice and not twice[0].strip().startswith("2"):
        rest = twice[0]
    elif twice:
        rest = rest[twice.end() :]
    if not (expected or taper):
        return None
    letter = None
    rest = " ".join(re.sub(_edged(_WORDS), " ", rest).split()).strip(" -,;/+().")
    if match := re.fullmatch(r"(?:([ABC])\s*-?([0-9.,]+\s*[kKM])|([0-9.,]+\s*[kKM])(?:Ω|ohm)?\s*-?([ABC]))", rest):
        letter, rest = match[1] or match[4], match[2] or match[3]
    found = _ohms(rest, expected)
    if found is None or found.kind is None:
        return found
    notes = ["the ohms are those of the whole track"] if not found.notes else list(found.notes)
    notes += ["tapped: the tap goes to a loudness network"] if taps else []
    if letter and taper is None:
        notes.append(f"letter {letter} read as {_LETTER[letter]}, as on Japanese parts; some makers swapped A and B")
    return replace(
        found, kind="potentiometer", notes=tuple(notes), taper=taper or (_LETTER[letter] if letter else None),
        tracks=2 if gangs or twice else None, switched=True if switches else None, bare=False,
    )  # fmt: skip


def _without(name: str, pattern: str, text: str) -> tuple[str, int]:
    """Take out what a pattern finds, where the text says anything of it; and how often it stood there."""
    return re.subn(pattern, " ", text) if speaks_of(text, *_SAYS[name]) else (text, 0)


def _edged(pattern: str) -> str:
    return "(?i)" + _EDGE.format(pattern)


def _ohms(rest: str, expected: bool) -> Reading | None:
    """Read the ohms that are left; without any the part is still a potentiometer where that is known."""
    if not rest:
        return Reading(kind="potentiometer", notes=(_UNMARKED,)) if expected else None
    try:
        found = read_resistor(rest, expected=True)
    except Refusal as refusal:
        return unread(str(refusal))
    if found is None and expected:
        if re.search(r"[0-9]", rest):
            return unread(f"no value of a potentiometer such as 500 k log found in {rest[:60]!r}")
        return Reading(kind="potentiometer", notes=(f"printed on it: {rest}", _UNMARKED))
    return found
