"""Fuses: T 500mA, F1A, 1 A slow, 3AG 2A, slo-blo.

Speed letters FF, F, M, T, TT are those of IEC 60127; AGC, GMA (fast) and MDL, GMC (time-lag) are American
makers' series, all recalled.
"""

from __future__ import annotations

import re

from pipeline.notation.lexing import FRACTION, NUMBER, amount, number
from pipeline.notation.reading import Reading, Refusal

SPEEDS = ("very fast", "fast", "medium", "time-lag", "long time-lag")
"""Every value of a fuse's ``speed``, fastest first; None where the marking does not say."""

_LETTERS = {"FF": "very fast", "F": "fast", "M": "medium", "T": "time-lag", "TT": "long time-lag"}
_SERIES = {
    "AGC": "fast", "GMA": "fast", "AGX": "fast", "SFE": "fast", "ABC": "fast", "GJV": "fast",
    "MDL": "time-lag", "GMC": "time-lag", "MDX": "time-lag", "MDA": "time-lag", "GMD": "time-lag", "FNM": "time-lag",
}  # fmt: skip
_SLOW = (
    r"(?i)\b(?:slo(?:w)?[\s-]*b(?:lo(?:w(?:ing)?)?)?|slow(?:[\s-]*acting)?|time[\s-]*(?:lag|delay)|"
    r"anti[\s-]?surge|a/s|delay(?:ed)?|tr(?:ä|a)ge|lag|sb|fusetron|temporis[ée]e?|lente?|retardée?|ritardato|traag|"
    r"замедленный)\b"
)
_MIDDLE = r"(?i)(?<![^\W_])(?:mt|mittel[\s-]*tr(?:ä|a)ge)(?![^\W_])"
_FAST = (
    r"(?i)\b(?:fast(?:[\s-]*(?:blow?|acting))?|quick(?:[\s-]*(?:blow?|acting))?|flink|normal[\s-]*blow?|rapide?|rapido|snel|f/b)\b"
)
_FORM = (
    r"(?i)\b(?:[1-9]AG|5\s*x\s*20(?:\s*mm)?|20\s*mm|6[.,]3\s*x\s*32(?:\s*mm)?|32\s*mm|"
    r"fuse|glass|ceramic|cartridge|fusible|fusibile|sicherung|feinsicherung|zekering|littelfuse|littlefuse|buss(?:mann)?|"
    r"wickmann|belling[\s-]lee|предохранитель|pojistka|bs\s?1362|пм-?1|пк-?[0-9]*|вп-?[0-9]+(?:-[0-9])?)\b"
)
_LOWEST_V = 32.0  # below it amps and volts together are a lamp's
_POINT = r"(?<![^\W_])([0-9]{1,2})A([0-9]{1,2})(T|F|M|FF|TT)?(?![^\W_])"  # 1A6 T: the letter stands for the point
_LETTER, _UNIT = r"(FF|F|M|TT|T)", r"(ma|a|amps?|amperes?)"
_SIZE = rf"((?:[0-9][\s-])?{FRACTION}|{NUMBER})"


def read_fuse(text: str, *, expected: bool = False) -> Reading | None:
    """Read a fuse's marking.

    Parameters
    ----------
    text : str
        A marking as `lexing.clean` leaves it.
    expected : bool
        True where ref or role says that it is a fuse.

    Returns
    -------
    Reading or None
        Amps, and the speed where it is marked: one of `SPEEDS`.

    Raises
    ------
    Refusal
        Amps that no fuse has.
    """
    if re.match(r"\s*-\s*[0-9.,]", text):
        raise Refusal("a minus sign stands before the amps: write them without")
    found, speed, formed, volts = _amps(text), None, 0, None
    if found is None:  # there is more on it than a speed and amps
        rest, speed = _speed_word(re.sub(_POINT, lambda m: f"{m[1]}.{m[2]} A {m[3] or ''}", text))
        rest, formed = re.subn(_FORM, " ", rest)
        rest, volts = _volts(rest)
        rest = " ".join(re.sub(r"[,;()]+(?![0-9])", " ", rest).split()).strip(" /-")
        found = _rating(rest)
    if found is None:
        return None
    size, unit, letter = found
    said = expected or speed or formed
    if not unit and volts is not None and not (letter and expected):
        return None
    if not said and (not unit or (volts is not None and volts < _LOWEST_V and not letter)):
        return None
    amps = float(amount(size) / (1000 if unit.startswith("m") else 1))
    if not 0 < amps <= (60 if unit else 20):
        raise Refusal(f"{amps:g} A is no fuse of a tube set: is a unit wrong?")
    notes = () if unit else (f"no unit marked: {size} taken as amps",)
    return Reading(kind="fuse", amps=amps, speed=speed or letter, volts=volts, notes=notes)


def _speed_word(text: str) -> tuple[str, str | None]:
    for pattern, speed in ((_MIDDLE, "medium"), (_SLOW, "time-lag"), (_FAST, "fast")):
        if re.search(pattern, text):
            return re.sub(pattern, " ", text), speed
    match = re.match(rf"(?i)({'|'.join(_SERIES)})[\s-]*(?=[0-9.,])", text)
    return (text[match.end() :], _SERIES[match[1].upper()]) if match else (text, None)


def _volts(text: str) -> tuple[str, float | None]:
    """Take the rated volts out, with the breaking-capacity letter that may stand before them."""
    match = re.search(
        rf"(?i)[\s/,]*(?<![0-9])({NUMBER})\s*v(?:olts?|ac|dc)?(?![a-z0-9])\s*(?:ac|dc|~)?", text
    )
    if not match:
        match = re.search(r"(?<=[0-9A-Za-z])\s*/\s*(125|250|380|500)(?![0-9.,]|\s*m?[Aa])", text)
    if not match:
        return text, None
    return f"{text[: match.start()]} {text[match.end() :]}", float(number(match[1])[0])


def _amps(text: str) -> tuple[str, str, str | None] | None:
    """Find size, unit and speed letter where nothing else is marked: T500mA, T2AL (L, H: breaking capacity)."""
    match = re.fullmatch(rf"(?i)(?:{_LETTER}\s*)?{_SIZE}\s*{_UNIT}\s*(?:[LHE]\b)?", text)
    return (match[2], match[3].lower(), _LETTERS.get((match[1] or "").upper())) if match else None


def _rating(text: str) -> tuple[str, str, str | None] | None:
    """Find size, unit and speed letter in any order: T500mA, 1.6AT, bare 2."""
    if first := _amps(text):
        return first
    last = re.fullmatch(rf"(?i){_SIZE}\s*{_UNIT}\s*{_LETTER}", text)
    if last:
        return last[1], last[2].lower(), _LETTERS[last[3].upper()]
    alone = re.fullmatch(rf"(?:{_LETTER}\s*)?{_SIZE}", text)
    if alone:
        return alone[2], "", _LETTERS.get(alone[1] or "")
    behind = re.fullmatch(rf"{_SIZE}\s*{_LETTER}", text)
    return (behind[1], "", _LETTERS[behind[2]]) if behind else None
